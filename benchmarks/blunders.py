"""Blunders put into right jobs: how many does the program ask about, and how often in vain?

python -m benchmarks.blunders --jobs 40

Each job is a machine of the workshop's other world, read by a fixed round of checks. The round is
typed once as read, and once per kind with one reading spoilt. A blunder counts as found when the
reading is refused at the door, the program asks whether the point slipped, or it names that
reading as one to repeat, at once or by the end of the round. A false alarm is the same on a
reading that was not spoilt, in the round typed as read.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from benchmarks.workshop.bench import Bench, bench_for
from benchmarks.workshop.families import WORLD, job
from benchmarks.workshop.instrument import typed
from chargewright import Job, open_job
from chargewright.checks.catalogue import Check
from chargewright.diagnosis.assess import IN_DOUBT
from chargewright.errors import InputError, ReadingError
from chargewright.jobs.reading_text import parse_reading
from chargewright.machine.points import Function

ROUND = (
    "rest_v",
    "crank_v",
    "mid_v",
    "high_v",
    "high_lights_v",
    "drop_positive_mid_v",
    "ac_open_high_v_ab",
    "ac_open_high_v_bc",
    "ac_open_high_v_ca",
)
AC_PAIRS = ("ac_open_high_v_ab", "ac_open_high_v_bc", "ac_open_high_v_ca")
TELLS_APART = 0.10  # relative: pairs closer than this read the same to a technician


@dataclass(frozen=True, slots=True)
class Typed:
    """One reading of the round: the check, what is typed, whether it was spoilt."""

    check: Check
    text: str
    spoilt: bool = False


Spoil = Callable[[Bench, list[Typed], np.random.Generator], int | None]


def _numbers(readings: list[Typed], functions: tuple[Function, ...]) -> list[int]:
    """Return the places of readings on these functions that show more than some digits."""
    found = []
    for place, one in enumerate(readings):
        if one.check.function in functions:
            value = parse_reading(one.text, one.check.function).value
            if value is not None and abs(value) > 0.05:
                found.append(place)
    return found


def _scaled(text: str, factor: float) -> str:
    digits = len(text.split(".")[1]) if "." in text else 0
    places = max(0, digits - round(np.log10(factor)))
    return f"{float(text) * factor:.{places}f}"


ALL = (Function.DC_V, Function.AC_V, Function.OHM, Function.DC_A)


def _by(factors: tuple[float, ...]) -> Spoil:
    def spoil(bench: Bench, readings: list[Typed], rng: np.random.Generator) -> int | None:
        places = _numbers(readings, ALL)
        if not places:
            return None
        place, factor = int(rng.choice(places)), float(rng.choice(factors))
        readings[place] = replace(readings[place], text=_scaled(readings[place].text, factor))
        return place

    return spoil


def _other_dial(bench: Bench, readings: list[Typed], rng: np.random.Generator) -> int | None:
    """AC for DC, or DC for AC."""
    places = _numbers(readings, (Function.DC_V, Function.AC_V))
    if not places:
        return None
    place = int(rng.choice(places))
    asked = bench.question(readings[place].check)
    other = Function.AC_V if asked.function is Function.DC_V else Function.DC_V
    text = typed(bench.job.hidden, replace(asked, function=other), bench.meter)
    readings[place] = replace(readings[place], text=text.lstrip("-"))
    return place


def _swapped(bench: Bench, readings: list[Typed], rng: np.random.Generator) -> int | None:
    places = _numbers(readings, (Function.DC_V, Function.DC_A))
    if not places:
        return None
    place = int(rng.choice(places))
    text = readings[place].text
    readings[place] = replace(readings[place], text=text[1:] if text[0] == "-" else f"-{text}")
    return place


def _pair_twice(bench: Bench, readings: list[Typed], rng: np.random.Generator) -> int | None:
    """Read one pair of alternator leads again in place of another that reads otherwise."""
    places = [n for n, one in enumerate(readings) if one.check.id in AC_PAIRS]
    values = {n: float(readings[n].text) for n in places}
    apart = [
        (a, b)
        for a in places
        for b in places
        if abs(values[a] - values[b]) > TELLS_APART * max(values[a], values[b])
    ]
    if not apart:
        return None
    spoilt, source = apart[int(rng.integers(len(apart)))]
    text = typed(bench.job.hidden, bench.question(readings[source].check), bench.meter)
    readings[spoilt] = replace(readings[spoilt], text=text)
    return spoilt


KINDS: dict[str, Spoil] = {
    "decimal slip": _by((10.0, 0.1)),
    "wrong range": _by((1000.0, 0.001)),
    "AC for DC or DC for AC": _other_dial,
    "swapped leads": _swapped,
    "same pair twice": _pair_twice,
}


def alarms(bench: Bench, readings: list[Typed]) -> set[int]:
    """Return the places of the readings that the program asks about."""
    work = open_job(
        {
            "card_version": 1,
            "id": f"blunder-{bench.job.number}",
            "created": "2026-01-01T00:00:00Z",
            "invented": True,
            "machine": {"class": bench.job.class_id},
            "meter": {"card": bench.job.meter_id},
            "complaint": {"kind": bench.job.complaint},
        }
    )
    asked: set[int] = set()
    places: dict[str, int] = {}
    for place, one in enumerate(readings):
        try:
            reading = work.reading_for(one.check, one.text)
        except (ReadingError, InputError):
            asked.add(place)
            continue
        if work.slip(reading) is not None:
            asked.add(place)
        work.add(reading)
        places[reading.id] = place
        asked |= {places[name] for name in doubted(work) if name in places}
    return asked


def doubted(work: Job) -> list[str]:
    """Return the readings named to be repeated, as an assessment would."""
    belief = work.session.belief
    doubts = zip(belief.answers, belief.doubt(), strict=True)
    return [answer.id for answer, doubt in doubts if doubt > IN_DOUBT]


def main() -> None:
    """Work the rounds and print detection by kind beside false alarms."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=40)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seed", type=int, default=5)
    options = parser.parse_args()
    found: Counter[str] = Counter()
    tried: Counter[str] = Counter()
    for number in range(options.first, options.first + options.jobs):
        bench = bench_for(job(WORLD, options.seed, number))
        checks = [bench.catalogue.get(n) for n in ROUND if n in bench.catalogue]
        checks = [check for check in checks if bench.possible(check)]
        clean = [
            Typed(check, typed(bench.job.hidden, bench.question(check), bench.meter))
            for check in checks
        ]
        falsely = alarms(bench, clean)
        found["false alarms, readings"] += len(falsely)
        tried["false alarms, readings"] += len(clean)
        found["false alarms, jobs"] += bool(falsely)
        tried["false alarms, jobs"] += 1
        rng = np.random.default_rng([options.seed, number])
        for kind, spoil in KINDS.items():
            spoilt = list(clean)
            place = spoil(bench, spoilt, rng)
            if place is None or spoilt[place].text == clean[place].text:
                continue
            hit = place in alarms(bench, spoilt)
            tried[kind] += 1
            found[kind] += hit
            if not hit:
                one = spoilt[place]
                print(f"  missed {kind}: {one.check.id} {clean[place].text} -> {one.text}")
        told = ", ".join(f"{kind} {found[kind]}/{tried[kind]}" for kind in tried)
        print(f"{number + 1 - options.first}/{options.jobs} {told}", flush=True)
    spoilt_all = sum(tried[kind] for kind in KINDS)
    print(f"\nfound {sum(found[kind] for kind in KINDS)}/{spoilt_all}, target 90 %")
    for kind in (*KINDS, "false alarms, readings", "false alarms, jobs"):
        share = found[kind] / max(tried[kind], 1)
        print(f"{kind:26s} {found[kind]:4d} of {tried[kind]:4d}  {share:.3f}")


if __name__ == "__main__":
    main()
