"""Reads a picture back: its texts as boxes in the bundled font, its nodes, its probes."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from PIL import ImageFont

SVG = "{http://www.w3.org/2000/svg}"
FINE = 20.0  # the font is measured this many times larger than drawn


@dataclass(frozen=True)
class Text:
    """A line of text and the rectangle it fills."""

    words: str
    size: float
    fill: str
    left: float
    right: float
    top: float
    bottom: float

    def meets(self, other: Text, *, spare: float = 0.0) -> bool:
        return (
            self.left < other.right - spare
            and other.left < self.right - spare
            and self.top < other.bottom - spare
            and other.top < self.bottom - spare
        )


@cache
def _font(size: float, bold: bool) -> ImageFont.FreeTypeFont:
    name = "NotoSans-Bold.ttf" if bold else "NotoSans-Regular.ttf"
    path = files("chargewright.pictures").joinpath("fonts", name)
    return ImageFont.truetype(str(path), int(size * FINE))


def measured(words: str, size: float, *, bold: bool = False) -> float:
    return _font(size, bold).getlength(words, features=["-kern"]) / FINE


def parsed(svg: str) -> ET.Element:
    return ET.fromstring(svg)


def texts(root: ET.Element) -> list[Text]:
    found = []
    for node in root.iter(f"{SVG}text"):
        size, x, y = (float(node.attrib[key]) for key in ("font-size", "x", "y"))
        width = measured(node.text or "", size, bold="font-weight" in node.attrib)
        anchor = node.attrib.get("text-anchor", "start")
        left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * width
        # capitals reach 0.72 of the size above the line, descenders 0.2 below it
        found.append(
            Text(
                node.text or "",
                size,
                node.attrib["fill"],
                left,
                left + width,
                y - 0.72 * size,
                y + 0.2 * size,
            )
        )
    return found


def view(root: ET.Element) -> tuple[float, float]:
    width, height = root.attrib["viewBox"].split()[2:]
    return float(width), float(height)


def nodes(root: ET.Element) -> dict[str, tuple[float, float]]:
    return {
        node.attrib["data-node"]: (float(node.attrib["cx"]), float(node.attrib["cy"]))
        for node in root.iter(f"{SVG}circle")
        if "-node-" in node.attrib.get("id", "")
    }


def probes(root: ET.Element) -> dict[str, ET.Element]:
    return {g.attrib["data-probe"]: g for g in root.iter(f"{SVG}g") if "data-probe" in g.attrib}


def line(element: ET.Element) -> list[tuple[float, float]]:
    pairs = (pair.split(",") for pair in element.attrib["points"].split())
    return [(float(x), float(y)) for x, y in pairs]


def outside_references(svg: str) -> Iterator[str]:
    yield from re.findall(r"(?:href|src)\s*=|url\(|@import|<script|<image|https?://[^\s\"]+", svg)
