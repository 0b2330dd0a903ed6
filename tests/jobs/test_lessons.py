"""Closed jobs as lessons: Dirichlet shares, merging, what leaves the house, and the front door."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from jobs.card_strategies import cards

from chargewright import open_job
from chargewright.cli.main import main
from chargewright.diagnosis.assess import fresh_belief
from chargewright.diagnosis.population import populate
from chargewright.diagnosis.reweigh import reweighed
from chargewright.errors import InputError, StoreError
from chargewright.jobs.card import Confirmation
from chargewright.jobs.case import Workshop, this_workshop
from chargewright.jobs.codec import card_from_dict
from chargewright.jobs.files import load_card
from chargewright.jobs.lessons import (
    Lesson,
    job_hash,
    lesson_of,
    lessons_dict,
    lessons_from_dict,
    merged,
)
from chargewright.jobs.store import JobStore
from chargewright.jobs.teaching import (
    Teaching,
    counted,
    dirichlet_mean,
    load_teaching,
    taught,
)
from chargewright.machine.cause_file import catalogue
from chargewright.machine.classes import class_ids
from chargewright.machine.conditioning import load_class
from chargewright.machine.prior import prior

CAUSES = [cause.id for cause in catalogue().causes]
EVEN = Teaching(pooled_strength=40.0, class_strength=20.0, weight=dict.fromkeys(Confirmation, 1.0))

lesson_sets = st.lists(
    st.builds(
        lambda job, class_id, causes, by: Lesson(
            job=job_hash(str(job), ""), class_id=class_id, causes=tuple(sorted(causes)), by=by
        ),
        job=st.integers(0, 8),  # few, so that workshops share jobs and differ about them
        class_id=st.sampled_from(class_ids()),
        causes=st.sets(st.sampled_from(CAUSES), min_size=1, max_size=2),
        by=st.sampled_from(Confirmation),
    ),
    max_size=8,
)


def closed(job: str, cause: str, **more: Any) -> dict[str, Any]:  # noqa: ANN401
    """Return a closed card; ``more`` goes into the card, ``by`` into its confirmation."""
    by = more.pop("by", "found")
    return {
        "card_version": 2,
        "id": job,
        "created": "2026-08-01T08:00:00Z",
        "machine": {"class": more.pop("class_id", "atv"), "label": "Mrs Invented, plate 7"},
        "confirmed_cause": {"cause": cause, "by": by, "note": "paid by Mr Invented"},
        **more,
    }


def lesson(job: str, cause: str, class_id: str = "atv", by: str = "found") -> Lesson:
    found = lesson_of(card_from_dict(closed(job, cause, class_id=class_id, by=by)))
    assert found is not None
    return found


def test_posterior_of_a_published_poll() -> None:
    """Gelman et al., Bayesian Data Analysis, 3.4: 727, 583, 137 answers, uniform prior.

    Dirichlet(728, 584, 138): the first two shares differ by 144/1450 on average.
    """
    thirds = dict.fromkeys(("bush", "dukakis", "other"), 1.0 / 3.0)
    found = dirichlet_mean(thirds, 3.0, {"bush": 727.0, "dukakis": 583.0, "other": 137.0})
    assert found["bush"] == pytest.approx(728.0 / 1450.0, rel=1e-12)
    assert found["bush"] - found["dukakis"] == pytest.approx(144.0 / 1450.0, rel=1e-12)


def test_rule_of_succession() -> None:
    """Laplace: after s of n, (s + 1)/(n + 2)."""
    found = dirichlet_mean({"yes": 0.5, "no": 0.5}, 2.0, {"yes": 7.0, "no": 2.0})
    assert found["yes"] == pytest.approx(8.0 / 11.0, rel=1e-12)


def test_posterior_against_scipy() -> None:
    stats = pytest.importorskip("scipy.stats", reason="the witness of this test is SciPy")
    shares = np.array([0.5, 0.3, 0.15, 0.05])
    counts = np.array([0.0, 4.2, 1.0, 0.6])
    names = list("abcd")
    found = dirichlet_mean(
        dict(zip(names, shares, strict=True)), 12.0, dict(zip(names, counts, strict=True))
    )
    assert list(found.values()) == pytest.approx(stats.dirichlet(12.0 * shares + counts).mean())


def test_two_levels_by_hand() -> None:
    """One class: (20 m + n)/(20 + N). Another class's jobs arrive through the pool of 40."""
    machine = load_class("atv")
    own = [lesson(f"a{i}", "stator_ground_fault") for i in range(10)]
    share = {one.cause: one for one in taught(machine, own, EVEN)}["stator_ground_fault"]
    assert share.learned == pytest.approx((20.0 * share.shipped + 10.0) / 30.0)
    assert share.pooled == pytest.approx(share.shipped)  # its own jobs do not count twice
    others = [lesson(f"b{i}", "stator_ground_fault", "sport-600-1000") for i in range(10)]
    share = {one.cause: one for one in taught(machine, others, EVEN)}["stator_ground_fault"]
    assert share.learned == share.pooled
    assert share.learned == pytest.approx((40.0 * share.shipped + 10.0) / 50.0)


def test_surer_confirmations_weigh_more() -> None:
    weights = load_teaching().weight
    assert weights[Confirmation.MEASURED_AFTER_REPAIR] == 1.0
    assert weights[Confirmation.INFERRED] < weights[Confirmation.FIX_REPORTED]
    assert weights[Confirmation.FIX_REPORTED] < weights[Confirmation.FOUND] <= 1.0
    pair = Lesson(job="x", class_id="atv", causes=("a", "b"), by=Confirmation.FOUND)
    assert counted([pair], EVEN) == {"a": 0.5, "b": 0.5}


@given(lesson_sets, st.sampled_from(class_ids()))
def test_shares_stay_shares_and_order_does_not_matter(told: list[Lesson], class_id: str) -> None:
    machine = load_class(class_id)
    found = taught(machine, told)
    assert sum(one.learned for one in found) == pytest.approx(1.0)
    assert all(one.learned > 0.0 for one in found if one.shipped > 0.0)
    assert taught(machine, told[::-1]) == found
    if not told:
        assert all(one.learned == pytest.approx(one.shipped) for one in found)


def share(class_id: str, told: Iterable[Lesson], cause: str = "regulator_never") -> float:
    return next(s.learned for s in taught(load_class(class_id), told) if s.cause == cause)


@given(lesson_sets)
def test_one_more_job_never_lowers_its_cause(told: list[Lesson]) -> None:
    more = lesson("one-more", "regulator_never")
    for class_id in ("atv", "sport-600-1000"):
        before, after = share(class_id, told), share(class_id, [*told, more])
        assert after >= before - 1e-12


@given(lesson_sets, lesson_sets, lesson_sets)
def test_merging_is_commutative_associative_and_idempotent(
    a: list[Lesson], b: list[Lesson], c: list[Lesson]
) -> None:
    assert merged(a, b) == merged(b, a)
    assert merged(merged(a, b), c) == merged(a, merged(b, c))
    assert merged(a, a) == merged(a)
    assert merged(merged(a, b), b) == merged(a, b)
    jobs = [one.job for one in merged(a, b, c)]
    assert len(jobs) == len(set(jobs))


@given(lesson_sets)
def test_lessons_travel_without_loss(told: list[Lesson]) -> None:
    assert lessons_from_dict(json.loads(json.dumps(lessons_dict(told)))) == merged(told)


KNOWN = {*class_ids(), *CAUSES, *(kind.value for kind in Confirmation)}
KEYS = {"lessons_version", "counts", "class", "causes", "by", "jobs"}


def strings(value: object) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from strings(key)
            yield from strings(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from strings(inner)
    elif isinstance(value, str):
        yield value


@settings(max_examples=150)
@given(
    raws=st.lists(cards, max_size=4),
    known=st.sampled_from(CAUSES),
    class_id=st.sampled_from(class_ids()),
)
def test_nothing_of_a_card_leaves_but_class_cause_and_hash(
    raws: list[dict[str, Any]], known: str, class_id: str
) -> None:
    """Cards of any content, half of them made to teach: only words of the program's own lists."""
    teaching = 0
    told: list[Lesson] = []
    for number, raw in enumerate(raws):
        if number % 2 and "confirmed_cause" in raw:
            raw["machine"]["class"] = class_id
            raw["confirmed_cause"] |= {"cause": known, "also": []}
            raw["invented"] = False
        found = lesson_of(card_from_dict(raw))
        if found is not None:
            teaching += 1
            told.append(found)
    for text in strings(lessons_dict(told)):
        assert text in KNOWN or text in KEYS or re.fullmatch(r"[0-9a-f]{32}", text), text


def test_what_teaches_nothing() -> None:
    assert lesson_of(card_from_dict(closed("a", "mr.smith"))) is None  # no cause of ours
    assert lesson_of(card_from_dict(closed("a", "regulator_never", invented=True))) is None
    assert lesson_of(card_from_dict(closed("a", "regulator_never", class_id="hers"))) is None
    open_card = closed("a", "regulator_never")
    del open_card["confirmed_cause"]
    assert lesson_of(card_from_dict(open_card)) is None


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        ({"lessons_version": 9}, "lessons_version 9"),
        ({"lessons_version": 1, "counts": 3}, "a list"),
        ({"lessons_version": 1, "counts": [{"class": "atv"}]}, r"counts\[0\]"),
        (
            {
                "lessons_version": 1,
                "counts": [{"class": "atv", "causes": ["x"], "by": "fond", "jobs": []}],
            },
            "did you mean 'found'",
        ),
        (
            {
                "lessons_version": 1,
                "counts": [{"class": "atv", "causes": ["x"], "by": "found", "jobs": ["7"]}],
            },
            "hexadecimal",
        ),
    ],
)
def test_files_that_are_no_lessons(raw: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        lessons_from_dict(raw)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[JobStore]:
    with JobStore(tmp_path / "jobs.sqlite") as opened:
        for number in range(4):
            opened.save(card_from_dict(closed(f"job-{number}", "regulator_never")))
        opened.save(
            card_from_dict(closed("job-x", "stator_ground_fault", class_id="sport-600-1000"))
        )
        opened.save(card_from_dict(closed("shown", "stator_ground_fault", invented=True)))
        yield opened


def test_a_store_teaches_what_its_cards_say(store: JobStore) -> None:
    own = {line.job_id: line for line in store.lessons.lines()}
    assert set(own) == {"job-0", "job-1", "job-2", "job-3", "job-x"}
    assert own["job-1"].lesson == lesson("job-1", "regulator_never")
    card = store.load("job-1")
    assert card.confirmed_cause is not None
    corrected = card.confirmed_cause.model_copy(
        update={"cause": "battery_worn", "also": ("her-own-word",)}
    )
    store.save(card.changed(confirmed_cause=corrected))
    assert "job-1" not in {line.job_id for line in store.lessons.lines()}  # one unknown word
    corrected = corrected.model_copy(update={"also": ("regulator_never",)})
    store.save(card.changed(confirmed_cause=corrected))
    own = {line.job_id: line for line in store.lessons.lines()}
    assert own["job-1"].lesson.causes == ("battery_worn", "regulator_never")


def test_a_job_taken_out_teaches_nothing_until_put_back(store: JobStore) -> None:
    machine = load_class("atv")
    before = taught(machine, store.lessons.counting())
    line = store.lessons.take_out("job-2")
    assert not line.counts
    without = taught(machine, store.lessons.counting())
    rest = [lesson(f"job-{n}", "regulator_never") for n in (0, 1, 3)]
    assert without == taught(
        machine, [*rest, lesson("job-x", "stator_ground_fault", "sport-600-1000")]
    )
    store.lessons.put_back(line.lesson.job[:8])
    assert taught(machine, store.lessons.counting()) == before
    with pytest.raises(StoreError, match="job-1"):
        store.lessons.take_out("job_1")


def test_two_workshops_learn_the_same_whoever_asks_first(store: JobStore, tmp_path: Path) -> None:
    with JobStore(tmp_path / "other.sqlite") as other:
        other.save(card_from_dict(closed("job-0", "regulator_never")))  # the card was sent over
        other.save(card_from_dict(closed("theirs", "battery_worn")))
        ours, theirs = store.lessons.counting(), other.lessons.counting()
        assert store.lessons.take_in(theirs) == 1
        assert store.lessons.take_in(theirs) == 0
        assert other.lessons.take_in(ours) == 4
        assert store.lessons.counting() == other.lessons.counting()
        store.lessons.take_out(lesson("theirs", "battery_worn").job)
        assert store.lessons.counting() == ours
        store.lessons.take_in(theirs)  # what was taken out stays out
        assert store.lessons.counting() == ours


def test_the_prior_of_a_job_is_what_the_workshop_learned(tmp_path: Path) -> None:
    """Thirty such jobs raise this cause alone, whatever stands beside it."""
    told = tuple(lesson(f"a{i}", "regulator_never") for i in range(30))
    workshop = Workshop(lessons=told)
    machine = load_class("atv")
    plain = prior(machine)
    learned = workshop.hypotheses(machine, None)
    assert [h.causes for h in learned] == [h.causes for h in plain]
    raised = [b for a, b in zip(plain, learned, strict=True) if b.share > a.share]
    assert {h.causes[0].id for h in raised if len(h.causes) == 1} == {"regulator_never"}
    path = tmp_path / "jobs.sqlite"
    with JobStore(path) as opened:
        for number in range(30):
            opened.save(card_from_dict(closed(f"a{number}", "regulator_never")))
    assert this_workshop(store=path) == Workshop(lessons=tuple(sorted(told)))


def test_reweighing_is_drawing_under_the_other_prior(monkeypatch: pytest.MonkeyPatch) -> None:
    import chargewright.diagnosis.population as population

    for name in ("SINGLE_COUNT", "SOUND_COUNT", "PAIR_COUNT"):
        monkeypatch.setattr(population, name, 4)
    machine = load_class("atv")
    learned = Workshop(lessons=(lesson("a", "regulator_never"),)).hypotheses(machine, None)
    moved = reweighed(fresh_belief(machine, None, 3), learned)
    direct = populate(machine, learned, np.random.default_rng(3))
    assert moved.population.log_base == pytest.approx(direct.log_base, abs=1e-12)
    assert np.array_equal(moved.population.z, direct.z)
    shares = moved.hypothesis_shares()
    assert shares == pytest.approx([h.share for h in learned], abs=1e-12)


def test_a_job_is_closed_and_teaches(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CHARGEWRIGHT_STORE", str(tmp_path / "jobs.sqlite"))
    monkeypatch.setenv("CHARGEWRIGHT_CACHE", "off")
    path, sent = tmp_path / "job.json", tmp_path / "lessons.json"
    run = CliRunner().invoke
    assert run(main, ["new", str(path), "--class", "atv"]).exit_code == 0
    wrong = run(main, ["close", str(path), "regulator_nevr"])
    assert wrong.exit_code == 2
    assert "regulator_never" in wrong.output
    for cause in ("battery_worn", "regulator_never"):  # noted, then corrected
        done = run(main, ["close", str(path), cause, "--by", "found", "--note", "Mrs Invented"])
        assert done.exit_code == 0, done.output
    card = load_card(path)
    shown = run(main, ["lessons", "show", "--class", "atv"])
    assert "regulator_never" in shown.output
    assert card.id in shown.output
    assert run(main, ["lessons", "export", str(sent)]).exit_code == 0
    assert "Invented" not in sent.read_text(encoding="utf-8")
    assert card.id not in sent.read_text(encoding="utf-8")
    again = run(main, ["lessons", "import", str(sent)])
    assert "0 of 1 jobs were new" in again.output
    assert open_job(path).workshop.lessons == (lesson_of(card),)
    assert run(main, ["lessons", "take-out", card.id]).exit_code == 0
    assert open_job(path).workshop.lessons == ()
    listed = json.loads(run(main, ["lessons", "show", "--class", "atv", "--json"]).output)
    assert [job["counts"] for job in listed["jobs"]] == [False]
    assert run(main, ["lessons", "put-back", card.id]).exit_code == 0
    assert len(open_job(path).workshop.lessons) == 1
