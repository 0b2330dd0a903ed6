"""Waveforms of one machine: currents, leg voltages, output and battery ripple against time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from chargewright.machine.parameters import Array
from chargewright.pictures.ink import Theme, ink_of
from chargewright.pictures.svg import TEXT, WIDTH, Size, document, paragraph
from chargewright.pictures.words import ENGLISH, Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """One curve of a panel: its name beside the picture and its values, as many as times."""

    title: str
    values: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """Curves that share an axis, such as three phase currents. At most three."""

    title: str
    unit: str
    curves: tuple[Curve, ...]


def waveform_picture(
    time_ms: Array,
    panels: Sequence[Panel],
    *,
    crank_deg_per_ms: float | None = None,
    cut_from_ms: float | None = None,
    notes: Sequence[str] = (),
    title: str = "",
    size: Size = "phone",
    theme: Theme = "light",
    words: Words = ENGLISH,
    name: str = "waves",
) -> str:
    """Return panels one under the other over a common time axis, as SVG text.

    ``time_ms`` (n,) [ms]; ``crank_deg_per_ms`` adds the crank angle below the time.
    ``cut_from_ms`` is where the regulator stops charging, if it does in this window.
    """
    ink = ink_of(theme)
    about = f"{title}: {', '.join(panel.title for panel in panels)}"
    lines, below = paragraph((12.0, 24.0), about, WIDTH[size] - 24.0, fill=ink.ink, size=TEXT)
    return document(
        lines, width=WIDTH[size], height=below, title=title, about=about, ink=ink, name=name
    )
