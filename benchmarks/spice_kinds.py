"""Writes docs/validation/kinds.md: half-wave and field-excited machines against a simulator.

Run from the root of the repository: ``python -m benchmarks.spice_kinds``. Takes some minutes on
two cores; ``--rounds`` makes it shorter.
"""

from __future__ import annotations

import argparse
import time
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from benchmarks.spice_witness import version
from tests.spice.cases import Case
from tests.spice.kinds import (
    FIELD,
    GROUPS,
    HALF_WAVE,
    Line,
    Verdict,
    battery_in,
    number_of_causes,
    random_kind,
    verdicts,
)
from tests.spice.run import PROGRAM, SimulatorError, available

PAGE = Path(__file__).parents[1] / "docs" / "validation" / "kinds.md"
SEED = 12
ROUNDS = 3
Found = list[tuple[Case, Verdict | SimulatorError]]

HEAD = """# Half-wave and field-excited machines against a circuit simulator

Made by `python -m benchmarks.spice_kinds` (seed {seed}, {version}, {cases} cases, {readings}
readings, {minutes:.1f} minutes with two simulators at a time). Do not edit: run it again.

Random machines of the classes `scooter-50-half-wave` (half of them with a diode alone, half with
a thyristor) and `tourer-field-excited` (a third of them rewound in delta), every cause they can
have in turn, severity drawn; lights on or off, hot or cold; 1200 to 8000 and 800 to 6000 rpm. The
program answers through its front door (`observe.signals`); the simulator gets the machine's own
parameters as a netlist drawn node by node, the charging coil with its end on frame, lighting
coil, clamp and lamp in the same netlist, or a field coil whose current makes the EMFs. Read as a
meter reads, in the last period of a steady state.

Shared, so not tested here: what [circuit.md](circuit.md) names, the clamp's straight line, and of
a field-excited machine the share of time its regulator feeds the field; what excitation follows
from that share, and whether the sensed volts then stand at the set point, the simulator finds by
itself (last line of each part). Chopping of the field's supply is not simulated.
"""


def quantile(values: Sequence[float], part: float) -> str:
    """Return a quantile of the errors' sizes, or a dash where the floor decided all."""
    kept = np.abs([v for v in values if np.isfinite(v)])
    return f"{np.quantile(kept, part):.3f}" if kept.size else "-"


def mean_of(lines: Sequence[Line]) -> str:
    """Return the mean signed error in percent."""
    kept = [v for v in (line.percent() for line in lines) if np.isfinite(v)]
    return f"{np.mean(kept):+.3f}" if kept else "-"


def agreement(lines: Sequence[Line]) -> list[str]:
    """Return the table by group of readings."""
    rows = ["| readings | target | within it | mean % | median size % | 99th % | worst % |",
            "|---|---|---|---|---|---|---|"]  # fmt: skip
    for group, target in GROUPS.items():
        some = [line for line in lines if line.group == group]
        if some:
            errors = [line.percent() for line in some]
            told = f"{100 * target.rel:g} % or {1000 * target.floor:g} m{target.unit}"
            held = sum(line.holds() for line in some)
            sizes = " | ".join(quantile(errors, q) for q in (0.5, 0.99, 1.0))
            rows.append(f"| {group} | {told} | {held}/{len(some)} | {mean_of(some)} | {sizes} |")
    return rows


def by_cause(lines: Sequence[Line]) -> list[str]:
    """Return mean signed errors by cause: no cause is favoured."""
    causes: dict[str, list[Line]] = defaultdict(list)
    for line in lines:
        causes[line.cause].append(line)
    rows = ["| cause | readings | outside | DC volts % | AC volts % | phase current % |",
            "|---|---|---|---|---|---|"]  # fmt: skip
    for cause, some in causes.items():
        outside = sum(not line.holds() for line in some)
        means = " | ".join(
            mean_of([line for line in some if line.group == group])
            for group in ("DC volts", "AC volts", "phase current")
        )
        rows.append(f"| `{cause}` | {len(some)} | {outside} | {means} |")
    return rows


def part(title: str, found: Found) -> list[str]:
    """Return one class's part of the page."""
    good = [v for _, v in found if isinstance(v, Verdict)]
    whole = [v for v in good if battery_in(v.case)]
    rest = [v for v in good if not battery_in(v.case)]
    lines = [line for v in whole for line in v.lines]
    outside = [line for line in lines if not line.holds()]
    others = [line for v in rest for line in v.lines]
    gaps = np.abs([v.held_gap_v for v in whole if np.isfinite(v.held_gap_v)])
    settled = sum(v.converged for v in good)
    text = ["", f"## {title}, machines with a battery in circuit ({len(whole)} cases)", ""]
    text += [
        *agreement(lines),
        "",
        f"Steady state reported by the program: {settled} of {len(good)}.",
    ]
    if len(found) > len(good):
        text.append(f"No answer from the simulator: {len(found) - len(good)}.")
    if gaps.size:
        text.append(
            f"Set point held: simulator's mean sensed volts away from it by at most"
            f" {1000 * gaps.max():.1f} mV ({gaps.size} cases)."
        )
    away = sum(not line.holds() for line in others)
    text.append(
        f"Without a battery in circuit (volts an indication only): {away} of {len(others)} outside."
    )
    if outside:
        text += ["", "Outside the target:", ""]
        text += [
            f"- {line.case}: {line.quantity} {line.found:.4g}, simulator {line.spice:.4g}"
            for line in outside
        ]
    return [
        *text,
        "",
        "Mean signed errors by cause, in percent of readings above the floor:",
        "",
        *by_cause(lines),
    ]


def main() -> None:
    """Compare and write the page."""
    parser = argparse.ArgumentParser(description="half-wave and field-excited machines, ngspice")
    parser.add_argument("--rounds", type=int, default=ROUNDS, help="cases per cause")
    parser.add_argument("--page", type=Path, default=PAGE)
    asked = parser.parse_args()
    if not available():
        raise SystemExit(f"{PROGRAM} is not on the path: nothing to compare with")
    started = time.perf_counter()
    found: dict[str, Found] = {}
    for class_id in (HALF_WAVE, FIELD):
        count = asked.rounds * number_of_causes(class_id)
        found[class_id] = verdicts([random_kind(class_id, i, SEED) for i in range(count)])
    minutes = (time.perf_counter() - started) / 60.0
    every = [v for part_ in found.values() for _, v in part_]
    readings = sum(len(v.lines) for v in every if isinstance(v, Verdict))
    head = HEAD.format(
        seed=SEED, version=version(), cases=len(every), readings=readings, minutes=minutes
    )
    text = [head.rstrip(), *part("Half-wave charging and lighting coil", found[HALF_WAVE])]
    text += part("Field-excited", found[FIELD])
    asked.page.write_text("\n".join(text) + "\n")
    print(f"{asked.page}: {len(every)} cases in {minutes:.1f} minutes")


if __name__ == "__main__":
    main()
