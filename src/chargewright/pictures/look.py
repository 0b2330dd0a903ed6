"""Where on the circuit a look looks: the parts whose parameters its sign depends on."""

from __future__ import annotations

from dataclasses import dataclass

from chargewright.checks.looks import Sign
from chargewright.pictures.ink import Ink
from chargewright.pictures.marks import BAND
from chargewright.pictures.schematic import Schematic
from chargewright.pictures.svg import polyline, tag

# Parameter of the machine (its leg or rail left off), or quantity of a look -> what it belongs
# to on the drawing: an edge or all of its kind, a node, a box.
EDGES = {
    "plug_ohm": "plug_",
    "fuse_ohm": "fuse",
    "accessory_load_a": "loads",
    "drain_a": "loads",
    "stator_leak_s": "winding_",
    "stator_leak_hot_s": "winding_",
    "phase_short_s": "winding_",
    "sense_ohm": "sense",
    "charge_lead_ohm": "charge_lead",
    "lamp_ohm": "headlamp",
    "lamp_ground_ohm": "headlamp",
    "lamp_lead_ohm": "lamp_lead",
    "light_plug_ohm": "light_plug",
    "light_leak_s": "winding_light",
    "brush_ohm": "winding_field",
    "field_ohm": "winding_field",
    "field_plug_ohm": "field_lead",
    "field_ground_ohm": "field_ground",
    "overcharge_v": "battery",
    "battery_cca_v": "battery",
}
NODES = {
    "pos_clamp_ohm": ("battery_pos",),
    "neg_cable_ohm": ("battery_neg", "frame"),
    "reg_ground_ohm": ("reg_body", "frame"),
    "harness_leak_s": ("reg_a", "reg_b", "reg_c"),
}
BOXES = ("up_", "dn_", "cut_", "setpoint_", "shunt_", "junction_")


@dataclass(frozen=True, slots=True)
class Places:
    """Names of edges, nodes and boxes on a drawing."""

    edges: tuple[str, ...] = ()
    nodes: tuple[str, ...] = ()
    boxes: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        """Return whether there is anything to show."""
        return bool(self.edges or self.nodes or self.boxes)


def places_of(sign: Sign, drawing: Schematic) -> Places:
    """Return what a sign depends on, as far as the drawing has it."""
    edges: list[str] = []
    nodes: list[str] = []
    boxes: list[str] = []
    for quantity in (q for trigger in sign.triggers for q in trigger.quantities):
        if quantity.startswith(BOXES):
            boxes.append("regulator")
            continue
        stem = quantity if quantity in EDGES or quantity in NODES else quantity[:-2]
        wanted = EDGES.get(stem)
        edges += [
            edge.id
            for edge in drawing.edges
            if wanted is not None
            and (edge.id == wanted or (wanted.endswith("_") and edge.id.startswith(wanted)))
        ]
        nodes += [node for node in NODES.get(stem, ()) if node in drawing.nodes]
    return Places(*(tuple(dict.fromkeys(found)) for found in (edges, nodes, boxes)))


def highlighted(places: Places, drawing: Schematic, ink: Ink) -> list[str]:
    """Return the marks under the drawing: a band on parts, a disc on points, a box's outline."""
    made = []
    for name in places.edges:
        edge = drawing.edge(name)
        line = edge.line if edge.body < 0 else edge.line[edge.body : edge.body + 2]
        made.append(
            polyline(
                line,
                stroke=ink.path,
                stroke_width=BAND if edge.body < 0 else 2.4 * BAND,
                data_look=name,
            )
        )
    for name in places.nodes:
        x, y = drawing.nodes[name]
        made.append(tag("circle", cx=x, cy=y, r=12.0, fill=ink.path, data_look=name))
    for box in drawing.boxes:
        if box.id in places.boxes:
            made.append(
                tag(
                    "rect",
                    x=box.corner[0],
                    y=box.corner[1],
                    width=box.width,
                    height=box.height,
                    rx=10,
                    fill="none",
                    stroke=ink.path,
                    stroke_width=BAND,
                    data_look=box.id,
                )
            )
    return made
