"""The wall chart: a tree whose shares and chances add up, and a page that holds all of it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest

from chargewright.checks.load import load_book
from chargewright.diagnosis import advise, population, refine, rollout
from chargewright.diagnosis.assess import Session
from chargewright.diagnosis.case import Case
from chargewright.diagnosis.chart import Fork, Leaf, Limits, Span, grow_chart
from chargewright.diagnosis.decisions import load_prices
from chargewright.machine.conditioning import load_class
from chargewright.meters.load import load_meter
from chargewright.pictures.wall_chart import (
    Heading,
    end_words,
    ends_of,
    figure,
    outline,
    span_words,
    wall_chart_svg,
)

HEADING = Heading(title="A <class> & its complaint", about="about", care="care")


@pytest.fixture(scope="module")
def session() -> Iterator[Session]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(population, "SINGLE_COUNT", 20)
        patch.setattr(population, "PAIR_COUNT", 3)
        patch.setattr(population, "SOUND_COUNT", 40)
        patch.setattr(refine, "thin", lambda belief, least=0.0: np.empty(0, dtype=np.intp))
        patch.setattr(rollout, "PLAYS", 4)
        patch.setattr(advise, "WORLDS", 150)
        yield Session(
            Case(
                machine=load_class("atv"),
                book=load_book(),
                meter=load_meter("trms-6000"),
                prices=load_prices(),
                complaint="battery_goes_flat",
            )
        )


@pytest.fixture(scope="module")
def tree(session: Session) -> Leaf | Fork:
    return grow_chart(
        session.case, session.belief, session.advice(), limits=Limits(ends=10, ranges=3)
    )


def leaves(tree: Leaf | Fork) -> Iterator[Leaf]:
    if isinstance(tree, Leaf):
        yield tree
        return
    for _, _, child in tree.branches:
        yield from leaves(child)


def forks(tree: Leaf | Fork) -> Iterator[Fork]:
    if isinstance(tree, Fork):
        yield tree
        for _, _, child in tree.branches:
            yield from forks(child)


def test_shares_add_up(tree: Leaf | Fork) -> None:
    """Every job ends somewhere, once (total probability)."""
    assert sum(leaf.share for leaf in leaves(tree)) == pytest.approx(1.0)
    for fork in forks(tree):
        assert sum(share for _, share, _ in fork.branches) == pytest.approx(1.0)
        assert 2 <= len(fork.branches) <= 3
    assert 3 <= ends_of(tree) <= 12


def test_the_first_check_is_the_planners(session: Session, tree: Leaf | Fork) -> None:
    assert isinstance(tree, Fork)
    assert tree.check.id == session.advice().plan.step.name


def test_ranges_join_without_gap(tree: Leaf | Fork) -> None:
    """Each range begins where the one before ends; the ends are open."""
    for fork in forks(tree):
        spans = [span for span, _, _ in fork.branches if span.seen is None and span.figures]
        if not spans:
            continue
        assert spans[0].low is None
        assert all(a.high == b.low for a, b in pairwise(spans))


def test_no_check_comes_twice_on_a_way(tree: Leaf | Fork) -> None:
    def walk(node: Leaf | Fork, seen: frozenset[str]) -> None:
        if isinstance(node, Leaf):
            return
        assert node.check.id not in seen
        for _, _, child in node.branches:
            walk(child, seen | {node.check.id})

    walk(tree, frozenset())


def test_knowing_more_never_cures_less(session: Session, tree: Leaf | Fork) -> None:
    """The leading suspect's mean chance over the ends is at least that before any check."""
    first = max(session.belief.component_shares().values())
    after = sum(leaf.share * leaf.suspects[0][1] for leaf in leaves(tree))
    assert after >= first - 0.05  # the planner's worlds are a sample of the belief's


def test_the_page_holds_every_word(tree: Leaf | Fork) -> None:
    """Well-formed, every end on it, and nothing outside A4."""
    svg = wall_chart_svg(tree, HEADING)
    root = ElementTree.fromstring(svg)
    assert (root.get("width"), root.get("height")) == ("297mm", "210mm")
    words = " ".join("".join(node.itertext()) for node in root.iter() if "text" in node.tag)
    assert "A <class> & its complaint" in words
    for leaf in leaves(tree):
        assert end_words(leaf) in words
    for fork in forks(tree):
        for span, _, _ in fork.branches:
            assert span_words(fork.check, span) in words
    for node in root.iter("{http://www.w3.org/2000/svg}rect"):
        x, width = float(node.get("x", 0)), float(node.get("width", 0))
        y, high = float(node.get("y", 0)), float(node.get("height", 0))
        assert -0.01 <= x <= x + width <= 297.0
        assert -25.0 <= y <= y + high <= 210.0
        assert high > 0.0


def test_the_text_has_one_line_per_fork_and_end(tree: Leaf | Fork) -> None:
    lines = [line for _, line in outline(tree)]
    assert sum("=>" in line for line in lines) == ends_of(tree)
    assert not re.search(r"nan|None", " ".join(lines))


def test_words_of_a_range() -> None:
    ohms = load_book().catalogue(load_class("atv").layout, load_class("atv").speeds)
    check = ohms.get("pair_ohm_ab")
    assert span_words(check, Span(low=None, high=0.5)) == "below 0.5 ohm"
    assert span_words(check, Span(low=2.5e4, over=True)) == "above 25 kohm or OL"
    assert span_words(check, Span(figures=False, over=True)) == "OL"
    assert span_words(check, Span(low=1.0, high=2.0)) == "1 ohm to 2 ohm"
    assert span_words(check, Span(seen=True)) == "yes"
    assert figure(0.0004, "V") == "0.4 mV"
