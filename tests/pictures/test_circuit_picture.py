"""The drawn circuit: every check of every class, both probes where they belong."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields
from functools import cache
from itertools import combinations, product
from typing import get_type_hints

import pytest
from pictures import marks as read

from chargewright.checks.catalogue import Check
from chargewright.checks.load import kind_of, load_book
from chargewright.circuit.wires import wires
from chargewright.errors import InputError
from chargewright.machine.classes import class_ids
from chargewright.machine.conditioning import load_class
from chargewright.machine.layout import ChargeTo, Layout, Winding
from chargewright.machine.model import Machine
from chargewright.machine.points import Engine, Function, Point, State
from chargewright.pictures.circuit import circuit_picture
from chargewright.pictures.facts import node_words
from chargewright.pictures.look import places_of
from chargewright.pictures.route import route
from chargewright.pictures.schematic import schematic
from chargewright.pictures.svg import SMALL, Size

SIZES: tuple[Size, ...] = ("phone", "page")


def layouts() -> Iterator[Layout]:
    """Yield every layout that can be told apart and that the model accepts."""
    choices = {field.name: _values(field.name) for field in fields(Layout)}
    for values in product(*choices.values()):
        try:
            yield Layout(**dict(zip(choices, values, strict=True)))  # type: ignore[arg-type]
        except InputError:
            continue


def _values(name: str) -> tuple[object, ...]:
    kind = get_type_hints(Layout)[name]
    return (False, True) if kind is bool else tuple(kind)


LAYOUTS = list(layouts())


@cache
def machine(class_id: str) -> Machine:
    return load_class(class_id)


@cache
def checks(class_id: str) -> tuple[Check, ...]:
    its = machine(class_id)
    book = load_book(kind_of(class_id))
    return book.catalogue(its.layout, its.speeds, lights_always_on=its.lights_always_on).checks


def drawn(class_id: str, check: Check, size: Size) -> str:
    return circuit_picture(
        machine(class_id).layout,
        plus=check.plus,
        minus=check.minus,
        function=check.function,
        state=check.state,
        look=check.sign,
        size=size,
    )


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("class_id", class_ids())
def test_every_check_of_every_class_has_both_probes_on_their_nodes(
    class_id: str, size: Size
) -> None:
    for check in checks(class_id):
        root = read.parsed(drawn(class_id, check, size))
        places, probes = read.nodes(root), read.probes(root)
        named = {role: p for role, p in (("plus", check.plus), ("minus", check.minus)) if p}
        wanted = {} if check.function is None else named
        wanted |= {r: p for r, p in (("plus", check.plus), ("minus", check.minus)) if p is not None}
        assert set(probes) == (set(wanted) if check.function is not None else set()), check.id
        for role, probe in probes.items():
            point = wanted[role]
            assert probe.attrib["data-node"] == point.word, check.id
            at = (float(probe.attrib["data-x"]), float(probe.attrib["data-y"]))
            assert at == places[point.word], check.id
            needle = probe.find(f"{read.SVG}polyline")
            if needle is not None:  # a clamp has none
                assert read.line(needle)[0] == at, check.id


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("class_id", class_ids())
def test_nothing_written_is_small_cut_off_or_written_over(class_id: str, size: Size) -> None:
    for check in checks(class_id):
        root = read.parsed(drawn(class_id, check, size))
        width, height = read.view(root)
        found = read.texts(root)
        for text in found:
            assert text.size >= SMALL, (check.id, text)
            assert text.left >= 0.0, (check.id, text)
            assert text.right <= width, (check.id, text)
            assert text.top >= 0.0, (check.id, text)
            assert text.bottom <= height, (check.id, text)
        for one, other in combinations(found, 2):
            assert not one.meets(other, spare=0.5), (check.id, one.words, other.words)
        for probe in read.probes(root).values():
            needle = probe.find(f"{read.SVG}polyline")
            if needle is None:
                continue
            x, y = read.line(needle)[-1]
            handle = read.Text("handle", 12.0, "", x - 11.0, x + 11.0, y - 11.0, y + 11.0)
            for text in found:
                assert text.words in "+-" or not handle.meets(text, spare=1.0), (check.id, text)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("layout", LAYOUTS, ids=str)
def test_drawing_and_wires_of_the_circuit_agree(layout: Layout, size: Size) -> None:
    """Every wire the circuit knows is drawn between its own two points, and every point exists."""
    drawing = schematic(layout, size)
    words = {point.word for point in Point}
    assert {word for word in drawing.nodes if word in words} == set(node_words(layout))
    for (start, end), name in wires(layout).items():
        if name == "charge_lead" and not _is_goal(layout, end):
            continue  # along the whole way to the battery, with the fuse in it
        edge = drawing.edge(name)
        assert {edge.start, edge.end} == {start.word, end.word}, name
    for edge in drawing.edges:
        assert edge.line[0] == drawing.nodes[edge.start], edge.id
        assert edge.line[-1] == drawing.nodes[edge.end], edge.id
        for (x, y), (x2, y2) in zip(edge.line, edge.line[1:], strict=False):
            assert x == x2 or y == y2, f"{edge.id} runs slanted"
    assert set(drawing.handles) >= set(node_words(layout))
    assert len({edge.id for edge in drawing.edges}) == len(drawing.edges)


def _is_goal(layout: Layout, end: Point) -> bool:
    goal = Point.BATTERY_POS if layout.charge_to is ChargeTo.BATTERY else Point.FUSE_OUT
    return end is goal


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("layout", LAYOUTS[::13], ids=str)
def test_any_two_points_can_be_shown(layout: Layout, size: Size) -> None:
    points = [point for point in Point if point.word in node_words(layout)]
    for function in (Function.OHM, Function.CLAMP_A):
        for plus, minus in combinations(points, 2):
            svg = circuit_picture(
                layout,
                plus=plus,
                minus=minus,
                function=function,
                state=State(plug_in=False, battery_in=False),
                size=size,
            )
            assert set(read.probes(read.parsed(svg))) == {"plus", "minus"}


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("class_id", class_ids())
def test_the_path_runs_from_red_to_black_without_a_gap(class_id: str, size: Size) -> None:
    layout = machine(class_id).layout
    drawing = schematic(layout, size)
    for check in checks(class_id):
        way = route(drawing, check.plus, check.minus, check.function, check.state)
        measured = check.function not in (None, Function.LOOK) and check.plus is not check.minus
        assert bool(way.edges) == measured, check.id
        if not measured:
            continue
        assert check.plus is not None
        assert check.minus is not None
        here = check.plus.word
        for name, forward in zip(way.edges, way.forward, strict=True):
            edge = drawing.edge(name)
            ends = (edge.start, edge.end) if forward else (edge.end, edge.start)
            # the stator's iron is bolted to the engine, which is frame
            start, end = ("frame" if node == "stator_body" else node for node in ends)
            assert here == start, check.id
            here = end
        assert here == check.minus.word, check.id


# What each check looks at, as a technician would point it out on the diagram.
PATHS = {
    "rest_v": {"battery"},
    "drop_fuse_high_v": {"fuse"},
    "drop_lead_mid_v": {"charge_lead"},
    "drop_positive_high_v": {"charge_lead", "fuse"},
    "drop_negative_high_v": {"neg_cable", "reg_ground"},
    "drop_ground_mid_v": {"neg_cable"},
    "drop_plug_mid_v_b": {"plug_b"},
    "drop_crank_positive_v": {"starter_cable"},
    "ac_open_high_v_bc": {"winding_b", "winding_c"},
    "pair_ohm_ab": {"winding_a", "winding_b"},
    "lead_frame_ohm": {"winding_a", "stator_insulation"},
    "diode_up_c": {"up_c"},
    "diode_up_back_c": {"up_c"},
    "diode_down_a": {"dn_a"},
    "drain_a": {"neg_cable"},
    "charge_high_a": {"neg_cable"},
    "output_high_a": {"charge_lead"},
}


@pytest.mark.parametrize("check_id", PATHS)
def test_the_path_is_the_one_a_technician_would_point_out(check_id: str) -> None:
    class_id = "sport-600-1000"
    check = next(c for c in checks(class_id) if c.id == check_id)
    layout = machine(class_id).layout
    assert layout.winding is Winding.STAR
    drawing = schematic(layout, "phone")
    way = route(drawing, check.plus, check.minus, check.function, check.state)
    assert set(way.edges) == PATHS[check_id]
    backwards = check_id.startswith("diode") and "back" in check_id
    assert bool(way.blocked) == (backwards or "frame" in check_id)


def test_an_open_plug_and_a_battery_lead_off_are_drawn_and_said() -> None:
    shown: dict[str, str] = {}
    for name, state in (
        ("as is", State()),
        ("plug", State(plug_in=False)),
        ("battery", State(battery_in=False)),
    ):
        shown[name] = circuit_picture(
            Layout(), plus=Point.REG_A, minus=Point.REG_OUT, function=Function.DIODE, state=state
        )
    assert len(set(shown.values())) == 3
    assert ">open<" in shown["plug"]
    assert ">closed<" in shown["as is"]
    assert "battery lead off" in shown["battery"]


def test_the_meter_says_its_function_and_the_description_says_all() -> None:
    state = State(engine=Engine.RUNNING, rpm=5000, plug_in=False)
    svg = circuit_picture(
        Layout(), plus=Point.ALT_A, minus=Point.ALT_B, function=Function.AC_V, state=state
    )
    root = read.parsed(svg)
    about = root.findtext(f"{read.SVG}desc") or ""
    for words in ("AC volts", "5000 rpm", "plug open", "RED on alternator lead A", "BLACK on"):
        assert words in about
    assert root.attrib["role"] == "img"
    ids = {e.attrib["id"] for e in root.iter() if "id" in e.attrib}
    assert set(root.attrib["aria-labelledby"].split()) <= ids
    assert list(read.outside_references(svg.replace("http://www.w3.org/2000/svg", ""))) == []


def test_ids_are_unique_and_begin_with_the_name_given() -> None:
    svg = circuit_picture(
        Layout(),
        plus=Point.ALT_A,
        minus=Point.FRAME,
        function=Function.OHM,
        state=State(),
        name="step-3",
    )
    found = [e.attrib["id"] for e in read.parsed(svg).iter() if "id" in e.attrib]
    assert len(found) == len(set(found)) > 30
    assert all(one.startswith("step-3-") for one in found)


@pytest.mark.parametrize("size", SIZES)
def test_red_and_black_differ_in_shape_and_sign(size: Size) -> None:
    svg = circuit_picture(
        Layout(),
        plus=Point.BATTERY_POS,
        minus=Point.BATTERY_NEG,
        function=Function.DC_V,
        state=State(),
        size=size,
    )
    probes = read.probes(read.parsed(svg))
    assert probes["plus"].find(f"{read.SVG}rect") is None
    assert probes["minus"].find(f"{read.SVG}rect") is not None
    strokes = {role: len(list(p.iter(f"{read.SVG}polyline"))) for role, p in probes.items()}
    assert strokes["plus"] == strokes["minus"] + 1  # the upright stroke of the plus


@pytest.mark.parametrize("size", SIZES)
def test_points_are_far_enough_apart_to_tell(size: Size) -> None:
    for layout in LAYOUTS[::5]:
        places = schematic(layout, size).nodes
        for one, other in combinations(places, 2):
            assert math.dist(places[one], places[other]) >= 20.0, (one, other)


@pytest.mark.parametrize("class_id", class_ids())
def test_every_look_marks_where_to_look(class_id: str) -> None:
    layout = machine(class_id).layout
    drawing = schematic(layout, "phone")
    looks = [check for check in checks(class_id) if check.sign is not None]
    assert len(looks) >= 9
    for check in looks:
        assert check.sign is not None
        assert places_of(check.sign, drawing), check.id
    plug = next(check.sign for check in looks if check.id == "look_plug")
    assert plug is not None
    assert len(places_of(plug, drawing).edges) == layout.phases
