"""Writes ``docs/validation/workshop.md`` and its diagram from the outcomes kept."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from benchmarks.workshop.families import FAMILIES, MODEL, WORLD
from benchmarks.workshop.floor import DRAWS, refusals
from benchmarks.workshop.outcome import Outcome
from benchmarks.workshop.reliability import diagram
from benchmarks.workshop.summary import Figures, by, figures, interval, reliability

PAGE = Path(__file__).parents[2] / "docs" / "validation" / "workshop.md"
NOTES = Path(__file__).parent / "data" / "notes.md"
TITLES = {
    "ours": "the program",
    "usual": "usual order",
    "most_likely": "most likely first",
    "cost_over_p": "least C/p first",
    "gain": "bits per minute, stop at 0.9",
    "oracle": "oracle",
    "no_meter_model": "program, no meter model",
    "no_access_cost": "program, no access cost",
    "one_step": "program, one step",
    "no_pairs": "program, no pairs",
}
RIVALS = ("ours", "usual", "most_likely", "cost_over_p", "gain", "oracle")
ABLATIONS = ("no_meter_model", "no_access_cost", "one_step", "no_pairs")


def write(outcomes: Sequence[Outcome], page: Path = PAGE) -> None:
    """Write the page and the diagram beside it."""
    world = by(_of(outcomes, WORLD), lambda o: o.policy)
    model = _of([o for o in outcomes if o.policy == "ours"], MODEL)
    ours = world.get("ours", [])
    picture = page.with_name("workshop-reliability.svg")
    series = [("other world", reliability(ours)), ("the model's own prior", reliability(model))]
    picture.write_text(diagram([one for one in series if one[1]]), encoding="utf-8")
    parts = [
        _head(ours, model),
        _targets(world, model),
        "## Policies side by side\n\n" + _policies(world, RIVALS, common(world, RIVALS)),
        "## By family\n\n" + _groups(world, "family", list(FAMILIES)),
        "## By cause, single faults and doubles\n\n" + _groups(world, "cause", None),
        "## Ablations\n\n" + _ablations(world),
        "## Calibration\n\n![reliability](workshop-reliability.svg)\n\n" + _bins(ours, model),
        "## The severity floor\n\n" + _floor(),
        "## What falls short, and why\n\n" + NOTES.read_text(encoding="utf-8"),
    ]
    page.write_text("\n\n".join(part.strip() for part in parts) + "\n", encoding="utf-8")


def _of(outcomes: Sequence[Outcome], world: str) -> list[Outcome]:
    return [one for one in outcomes if one.world == world]


def common(world: dict[str, list[Outcome]], names: Sequence[str]) -> set[int]:
    """Return the jobs that every policy with any outcome has worked."""
    sets = [{one.number for one in world[name]} for name in names if world.get(name)]
    return set.intersection(*sets) if sets else set()


def _head(ours: list[Outcome], model: list[Outcome]) -> str:
    return f"""# Workshop: whole jobs on hidden machines

Simulated technicians work whole jobs through the front door on machines drawn from a world that
is deliberately not the model (`benchmarks/workshop/world.py`): wider scatter, shifted centres,
unequal phases, EMF harmonics, meters out of calibration, leads forgotten, speeds by ear,
complaints that mislead, contacts bad only at times. Every policy meets the same machine, meter
and technician. `python -m benchmarks.workshop run` works jobs and keeps each outcome as a line;
`python -m benchmarks.workshop page` makes this page of them. All machines are invented.

**Here: {len(ours)} jobs of the program in the other world, {len(model)} under the model's own
prior; a full run is 2,000.** Shares carry 95 % intervals (Wilson): with this many jobs,
differences of a few points mean nothing.

Minutes are those of the whole job: checks with covers and changes of mode, charging and its
waiting at the price of the prices file, needed repairs, wasted repairs and parts (at the labour
rate), proof, and what a fault left in costs when the customer comes back. *Finding* leaves the
needed repairs out. *Right component* is judged at the first decision to repair or to call the
machine sound; *mended* when the machine is handed over."""


def _targets(world: dict[str, list[Outcome]], model: list[Outcome]) -> str:
    """Return the table of targets; only jobs that ours, usual order and oracle all worked."""
    names = ("ours", "usual", "oracle")
    shared = common(world, names)
    ours, usual, oracle = (
        figures([o for o in world.get(name, []) if o.number in shared]) for name in names
    )
    own = figures(model)
    rows = [
        ("right component", "0.97 or more", _share(ours.right_component, ours.jobs)),
        ("healthy parts fitted per job", "0.04 or less", _plain(ours.healthy_parts, 3)),
        ("minutes, share of the usual order's", "0.75 or less", _ratio(ours, usual, "minutes")),
        ("the same, finding only", "", _ratio(ours, usual, "finding_min")),
        ("minutes, share of the oracle's", "1.25 or less", _ratio(ours, oracle, "minutes")),
        ("the same, finding only", "", _ratio(ours, oracle, "finding_min")),
        (
            "nothing wrong on sound machines",
            "0.95 or more",
            _share(ours.nothing_on_sound, ours.sound),
        ),
        ("stated 0.95 or more and wrong", "0.03 or less", _share(ours.sure_wrong, ours.sure)),
        ("calibration error, own prior", "0.03", _plain(own.calibration_error, 3)),
        ("calibration error, other world", "0.06", _plain(ours.calibration_error, 3)),
        (
            "mean log score, own prior / other world",
            "reported",
            f"{_plain(own.log_score, 2)} / {_plain(ours.log_score, 2)} nat",
        ),
        ("right component, own prior", "reported", _share(own.right_component, own.jobs)),
        ("double faults: both mended", "0.85 or more", _share(ours.both_found, ours.doubles)),
    ]
    return "## Against the targets\n\n" + _table(("what", "target", "found"), rows)


def _policies(world: dict[str, list[Outcome]], names: Sequence[str], shared: set[int]) -> str:
    rows = []
    for name in names:
        here = [one for one in world.get(name, []) if one.number in shared]
        if not here:
            continue
        f = figures(here)
        rows.append(
            (
                TITLES[name],
                _share(f.right_component, f.jobs),
                _plain(f.right_repair, 2),
                _plain(f.mended, 2),
                _plain(f.healthy_parts, 2),
                _plain(f.looks, 1),
                _plain(f.minutes, 0),
                _plain(f.finding_min, 0),
                _plain(f.undecided, 2),
                _plain(f.nothing_on_sound, 2),
                _plain(f.both_found, 2),
            )
        )
    heads = (
        "policy", "right component", "right repair", "mended", "healthy parts", "looks",
        "minutes", "finding", "undecided", "nothing on sound", "both of two",
    )  # fmt: skip
    return f"{len(shared)} jobs that all of these worked.\n\n" + _table(heads, rows)


def _ablations(world: dict[str, list[Outcome]]) -> str:
    names = ("ours", *ABLATIONS)
    text = [_policies(world, ("ours", name), common(world, ("ours", name))) for name in ABLATIONS
            if world.get(name)]  # fmt: skip
    return "\n\n".join(text) if text else f"None of {', '.join(names[1:])} has been run yet."


def _groups(world: dict[str, list[Outcome]], what: str, order: list[str] | None) -> str:
    """Return right component / mended / minutes per group, policies side by side."""
    names = [name for name in ("ours", "usual", "cost_over_p", "oracle") if world.get(name)]
    shared = common(world, names)
    key = (lambda o: o.family) if what == "family" else (lambda o: "+".join(o.causes))
    split = {name: by([o for o in world[name] if o.number in shared], key) for name in names}
    groups = order or sorted(split[names[0]]) if names else []
    rows = []
    for group in groups:
        cells: list[str] = [group, str(len(split[names[0]].get(group, [])))]
        for name in names:
            here = split[name].get(group, [])
            f = figures(here)
            cells.append(
                f"{f.right_component:.2f} / {f.mended:.2f} / {f.minutes:.0f}" if here else ""
            )
        rows.append(tuple(cells))
    heads = (what, "jobs", *(TITLES[name] for name in names))
    return "Right component / mended / minutes.\n\n" + _table(heads, rows)


def _bins(ours: list[Outcome], model: list[Outcome]) -> str:
    rows = []
    for name, outcomes in (("other world", ours), ("own prior", model)):
        for one in reliability([o for o in outcomes if math.isfinite(o.top_share)]):
            rows.append((name, f"{one.stated:.2f}", f"{one.right:.2f}", str(one.count)))
    return "Leading component at the first decision.\n\n" + _table(
        ("machines", "stated", "right", "jobs"), rows
    )


def _floor() -> str:
    """Return how many draws the severity floor refuses, by cause."""
    found = list(refusals())
    rows = [
        (one.cause, f"{one.refused} of {one.sound}", f"{one.share:.0%}", one.worst,
         f"{one.worst_share:.0%}")
        for one in found
    ]  # fmt: skip
    return (
        "A drawn fault that nobody could notice is refused: it has to lose charge at road speed, "
        "break a running limit, weaken the start, flatten the battery within two weeks of "
        "standing, or leave the battery unfit (`benchmarks/workshop/matters.py` has the rule in "
        f"figures). {DRAWS} draws of every cause on every class, those on sound machines:\n\n"
        + _table(("cause", "refused", "share", "worst class", "there"), rows)
    )


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = ["| " + " | ".join(heads) + " |", "|" + "---|" * len(heads)]
    return "\n".join([*lines, *("| " + " | ".join(row) + " |" for row in rows)])


def _share(share: float, count: int) -> str:
    if not count or not math.isfinite(share):
        return "no such job yet"
    low, high = interval(share, count)
    return f"{share:.3f} ({low:.2f} to {high:.2f}, n {count})"


def _plain(value: float, places: int) -> str:
    return f"{value:.{places}f}" if math.isfinite(value) else ""


def _ratio(mine: Figures, other: Figures, field: str) -> str:
    own, theirs = getattr(mine, field), getattr(other, field)
    if not math.isfinite(own) or not math.isfinite(theirs):
        return "no such job yet"
    return f"{own / theirs:.2f} ({own:.0f} of {theirs:.0f} min)"
