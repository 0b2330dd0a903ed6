"""The page of benchmarks/spice_witness.py: tables from the comparison's rows."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from benchmarks.spice_ratio import Ratio
from benchmarks.spice_witness_prose import PROSE
from chargewright.circuit.running import ROUGH_STEPS, STEPS
from tests.spice.compare import MIXED, STEP_COUNTS, TARGETS, Outcome, Row, Solved
from tests.spice.netlist import Mode
from tests.spice.run import FINE_STEPS, SimulatorError
from tests.spice.switching import QUANTITIES, Switched

MOST_LISTED = 25
LEAST = 1e-3  # volts or amperes below which no ratio is formed


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """Everything the page tells."""

    version: str
    seed: int
    compared: list[tuple[Solved, Outcome | SimulatorError]]
    compare_s: float
    switched: list[Switched | SimulatorError]
    ratio: Ratio
    numpy: str

    @property
    def done(self) -> list[tuple[Solved, Outcome]]:
        """The cases the simulator finished."""
        return [(s, o) for s, o in self.compared if isinstance(o, Outcome)]

    def rows(self, keep: Callable[[Solved], bool]) -> list[Row]:
        """Return the rows of the cases kept."""
        return [row for solved, outcome in self.done if keep(solved) for row in outcome.rows]


def table(head: Iterable[str], lines: Iterable[Iterable[str]]) -> str:
    """Return a table as text."""
    heads = list(head)
    text = [f"| {' | '.join(heads)} |", f"|{'---|' * len(heads)}"]
    return "\n".join(text + [f"| {' | '.join(line)} |" for line in lines])


def number(value: float, digits: int = 2) -> str:
    """Return a number, or a dash where there is none."""
    return "–" if np.isnan(value) else f"{value:.{digits}f}"


def percents(rows: Iterable[Row], steps: int = STEPS) -> np.ndarray:
    """Return the relative errors [%] of readings large enough to have one."""
    errors = np.array([row.percent(steps) for row in rows])
    return errors[~np.isnan(errors)] if errors.size else errors


def within(rows: list[Row], steps: int = STEPS) -> str:
    """Return how many of the rows are within target."""
    return f"{sum(row.holds(steps) for row in rows)}/{len(rows)}" if rows else "–"


def target_table(rows: list[Row]) -> str:
    """Return, per group of readings and number of steps, agreement and the errors' spread."""
    lines = []
    for group, target in TARGETS.items():
        chosen = [row for row in rows if row.group == group]
        asked = f"{100 * target.rel:g} % or {1000 * target.floor:g} m{target.unit}"
        for steps in STEP_COUNTS:
            errors = percents(chosen, steps)
            size = np.abs(errors)
            told = (errors.mean(), *np.percentile(size, [50, 99]), size.max())
            spread = (number(v, 3) for v in told)
            lines.append([group, asked, str(steps), within(chosen, steps), *spread])
    return table(
        [
            "readings",
            "target",
            "steps",
            "within it",
            "mean %",
            "median size %",
            "99th %",
            "worst %",
        ],
        lines,
    )


def mode_table(rows: list[Row]) -> str:
    """Return agreement by the regulator's mode."""
    lines = []
    for mode in (Mode.CHARGE.value, Mode.CUT.value, MIXED):
        chosen = [row for row in rows if row.mode == mode]
        cases = len({row.case for row in chosen})
        agreed = (within(chosen, steps) for steps in STEP_COUNTS)
        lines.append([mode, str(cases), *agreed])
    heads = (f"readings within target, {steps} steps" for steps in STEP_COUNTS)
    return table(["mode", "cases", *heads], lines)


def cause_table(rows: list[Row]) -> str:
    """Return the mean error of the mixture by cause: a bias would show here."""
    lines = []
    for cause in dict.fromkeys(row.cause for row in rows):
        chosen = [row for row in rows if row.cause == cause and row.mode == MIXED]
        cells = [cause, str(len({row.case for row in chosen}))]
        for group in TARGETS:
            of_group = [row for row in chosen if row.group == group]
            found = percents(of_group)
            cells.append(number(found.mean() if found.size else float("nan")))
        missed = sum(not row.holds() for row in chosen)
        lines.append([*cells, f"{missed} of {len(chosen)}"])
    return table(["cause", "cases", *(f"{g} %" for g in TARGETS), "missed"], lines)


def missed_table(rows: list[Row]) -> str:
    """Return the readings outside their target, worst first."""
    missed = [row for row in rows if not row.holds()]
    missed.sort(key=lambda row: -abs(row.away()) / row.allowed)
    if not missed:
        return "None."
    lines = [
        [row.case, row.mode, row.quantity, f"{row.spice:.4g}", f"{row.found[STEPS]:.4g}"]
        for row in missed[:MOST_LISTED]
    ]
    more = len(missed) - MOST_LISTED
    shown = table(["case", "mode", "reading", "simulator", "program"], lines)
    return shown + (f"\n\nand {more} more." if more > 0 else "")


def gap_lines(findings: Findings, keep: Callable[[Solved], bool]) -> str:
    """Return how well set point and battery law hold in the simulator's own means."""
    kept = [outcome for solved, outcome in findings.done if keep(solved)]
    lines = []
    for title, gaps in (
        ("sensed voltage minus set point, where it is held", [o.held_gap_v for o in kept]),
        ("battery's law minus internal voltage, elsewhere", [o.e_gap_v for o in kept]),
    ):
        size = np.abs(gaps) * 1000.0
        worst = kept[int(np.nanargmax(size))]
        current = next(r for r in worst.rows if r.mode == MIXED and r.group == "battery current")
        told = (*np.nanpercentile(size, [50, 99]), np.nanmax(size))
        lines.append(
            [
                title,
                str(np.count_nonzero(~np.isnan(size))),
                *(number(v, 1) for v in told),
                f"{current.case}, {current.spice:.3f} and {current.found[STEPS]:.3f} A",
            ]
        )
    heads = ["", "cases", "median mV", "99th mV", "worst mV"]
    return table([*heads, "the worst, and its battery's current: simulator, program"], lines)


def switching_table(switched: list[Switched], controller: str) -> str:
    """Return mixture minus switched regulator per quantity."""
    chosen = [one for one in switched if one.controller == controller]
    lines = []
    for title, *_ in QUANTITIES:
        pairs = np.array([one.values[title] for one in chosen])
        pairs = pairs[np.abs(pairs[:, 0]) > LEAST]
        if not pairs.size:
            continue
        if title.endswith("DC volts"):
            away, unit = 1000.0 * (pairs[:, 1] - pairs[:, 0]), "mV"
        else:
            away, unit = 100.0 * (pairs[:, 1] / pairs[:, 0] - 1.0), "%"
        told = (np.median(away), *np.percentile(away, [10, 90]), np.abs(away).max())
        lines.append([f"{title}, {unit}", *(number(v, 1) for v in told)])
    return table(["mixture minus switched", "median", "10th", "90th", "largest size"], lines)


def pace(switched: list[Switched], controller: str) -> str:
    """Return how often a controller switched."""
    rates = [one.switchings_per_period for one in switched if one.controller == controller]
    return f"{len(rates)} cases, {np.median(rates):.2g} cycles per electrical period in the median"


def failures(findings: Findings) -> str:
    """Return what the simulator or the program did not finish."""
    lines = [f"- {s.case.name}: {o}" for s, o in findings.compared if isinstance(o, SimulatorError)]
    lines += [f"- regulator: {one}" for one in findings.switched if isinstance(one, SimulatorError)]
    lines += [
        f"- {s.case.name}: the program says it did not converge"
        for s, _ in findings.compared
        if not s.answer.converged
    ]
    return "\n".join(lines) if lines else "None."


def page(findings: Findings) -> str:
    """Return the whole page."""
    switched = [one for one in findings.switched if isinstance(one, Switched)]
    with_battery = findings.rows(lambda solved: solved.battery_in)
    without = findings.rows(lambda solved: not solved.battery_in)
    ratio = findings.ratio
    times = [
        [f"{steps} steps a period", f"{s:.3f} s", f"{s / ratio.kernel_s:.0f}"]
        for steps, s in ratio.spice_s.items()
    ]
    return PROSE.format(
        version=findings.version,
        seed=findings.seed,
        cases=len(findings.compared),
        readings=len(with_battery) + len(without),
        minutes=f"{findings.compare_s / 60:.1f}",
        fine=FINE_STEPS,
        steps=STEPS,
        rough=ROUGH_STEPS,
        with_cases=len({row.case for row in with_battery}),
        without_cases=len({row.case for row in without}),
        targets=target_table(with_battery),
        modes=mode_table(with_battery),
        missed=missed_table(with_battery),
        gaps=gap_lines(findings, lambda solved: solved.battery_in),
        modes_without=mode_table(without),
        missed_without=missed_table(without),
        causes=cause_table(with_battery),
        quick_pace=pace(switched, "quick"),
        slow_pace=pace(switched, "slow"),
        quick=switching_table(switched, "quick"),
        slow=switching_table(switched, "slow"),
        bare_pace=pace(switched, "quick, not firm"),
        bare=switching_table(switched, "quick, not firm"),
        failures=failures(findings),
        machines=ratio.machines,
        kernel_us=f"{ratio.kernel_s * 1e6:.0f}",
        times=table(["simulator", "per machine", "times the program's"], times),
    )
