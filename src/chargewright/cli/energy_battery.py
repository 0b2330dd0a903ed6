"""Energy commands about the battery itself: battery, charge, storage."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from chargewright.cli.energy_options import (
    USUAL_STANDARD,
    answer_options,
    class_of,
    class_option,
    label_of,
    label_options,
    opened,
)
from chargewright.cli.energy_page import EnergyPage, finish
from chargewright.energy.words import days_span, plain, share_span, span

if TYPE_CHECKING:
    from chargewright.energy.evidence import Evidence


@click.command(short_help="Is this battery good, flat or done?")
@label_options
@click.option("--rested", type=float, metavar="V", help="Voltage at rest.")
@click.option("--rest-hours", type=float, metavar="H", help="Hours since charged or loaded.")
@click.option("--gravity", type=float, multiple=True, metavar="SG", help="One per cell.")
@click.option("--meter", metavar="NAME", help="Meter of the rested voltage: name or TOML.")
@click.option("--temp", type=float, metavar="C", help="Temperature of the battery.")
@click.option("--charged", is_flag=True, help="Full on a charger before the tests.")
@click.option("--load-test", nargs=2, type=float, metavar="V A", help="Volts after 15 s at A.")
@click.option("--cranking", type=float, metavar="V", help="Volts while cranking.")
@click.option("--cranking-a", type=float, metavar="A", help="Amperes while cranking.")
@click.option("--milliohm", type=float, help="Internal resistance a tester shows.")
@click.option("--shown-cca", type=float, metavar="A", help="CCA a tester shows, as --standard.")
@click.option("--gave-ah", type=float, metavar="AH", help="Ah from full to 10.5 V.")
@answer_options
def battery(
    rested: float | None,
    rest_hours: float | None,
    gravity: tuple[float, ...],
    meter: str | None,
    temp: float | None,
    charged: bool,
    card: Path | None,
    as_json: bool,
    **told: Any,  # noqa: ANN401 - the label, and one option per kind of test
) -> None:
    """Tell the charge from a rested voltage, and the health from any tests made."""
    from chargewright.energy.charge_state import Rested, charge_from_gravity, charge_from_volts
    from chargewright.energy.health import judge_battery
    from chargewright.energy.suspects import Circumstances

    job_card = opened(card)
    label = label_of(told, job_card)
    at_rest = charge = None
    if rested is not None:
        at_rest = Rested(
            volts=rested,
            chemistry=label.chemistry,
            temp_c=temp,
            rest_h=rest_hours,
            volts_u=_volts_u(meter, rested),
        )
        charge = charge_from_volts(at_rest)
    if gravity:
        charge = charge_from_gravity(gravity, temp, chemistry=label.chemistry)
    health = judge_battery(
        _evidence(told), Circumstances(label=label, temp_c=temp, rested=at_rest, charged=charged)
    )
    pairs = [
        ("past use", f"{health.done:.0%}"),
        ("less than 3/4 charged", f"{health.flat:.0%}"),
        ("cranks, when full", span(health.cca_a, "A SAE")),
        ("load test", f"{health.load_a.best:.0f} A for 15 s, at least {health.line_v.best:.1f} V"),
    ]
    texts: tuple[str, ...] = ()
    if charge is not None:
        texts = (*((charge.refused,) if charge.refused else ()), *charge.notes)
        if charge.soc is not None:
            pairs.insert(0, ("charge", share_span(charge.soc)))
    page = EnergyPage(
        kind="battery",
        data={"charge": charge, "health": health},
        head=str(health.verdict).upper(),
        pairs=tuple(pairs),
        texts=texts,
        parts=(("Next", tuple(health.next_steps)),) if health.next_steps else (),
    )
    finish(page, card=job_card, as_json=as_json)


def _volts_u(meter: str | None, volts: float) -> float:
    """Return the standard uncertainty [V] of a meter by name, or of an ordinary handheld."""
    from chargewright.machine.points import Function
    from chargewright.meters.load import load_meter
    from chargewright.meters.verdict import range_u

    card = load_meter() if meter is None else load_meter(meter)
    return range_u(card, Function.DC_V, volts)


def _evidence(told: Mapping[str, Any]) -> list[Evidence]:
    from chargewright.energy.evidence import (
        CapacityTest,
        Cranking,
        LoadTest,
        Resistance,
        ShownCca,
    )
    from chargewright.machine.battery_spec import CcaStandard

    found: list[Evidence] = []
    if told["load_test"] is not None:
        volts, amps = told["load_test"]
        found.append(LoadTest(volts=volts, amps=amps))
    if told["cranking"] is not None:
        found.append(Cranking(volts=told["cranking"], amps=told["cranking_a"]))
    if told["milliohm"] is not None:
        ohm = told["milliohm"] / 1000.0
        found.append(Resistance(ohm=ohm, ohm_u=max(0.05 * ohm, 0.2e-3)))
    if told["shown_cca"] is not None:
        standard = CcaStandard(told["standard"] or USUAL_STANDARD)
        found.append(ShownCca(shown_a=told["shown_cca"], standard=standard))
    if told["gave_ah"] is not None:
        found.append(CapacityTest(ah=told["gave_ah"]))
    return found


@click.command(short_help="How to charge a battery, and when not to.")
@label_options
@click.option("--rested", type=float, metavar="V", help="Voltage at rest, before charging.")
@click.option(
    "--temp", type=float, default=20.0, metavar="C", show_default=True, help="Battery's own."
)
@click.option("--charger-a", type=float, metavar="A", help="Current the charger gives.")
@click.option("--charger-v", type=float, metavar="V", help="Its highest voltage.")
@click.option("--swollen", is_flag=True, help="The case bulges.")
@click.option("--leaking", is_flag=True, help="The case leaks.")
@answer_options
def charge(
    rested: float | None,
    temp: float,
    charger_a: float | None,
    charger_v: float | None,
    swollen: bool,
    leaking: bool,
    card: Path | None,
    as_json: bool,
    **told: Any,  # noqa: ANN401 - what is printed on the battery
) -> None:
    """Plan a charge: current, voltage limit, hours, when to stop, what must not be done."""
    from chargewright.energy.charge_plan import ChargeJob, plan_charge
    from chargewright.energy.charge_state import Rested, charge_from_volts
    from chargewright.energy.interval import Interval

    job_card = opened(card)
    label = label_of(told, job_card)
    soc = Interval(0.0, 0.4, 1.0)
    if rested is not None:
        found = charge_from_volts(Rested(volts=rested, chemistry=label.chemistry, temp_c=temp))
        soc = found.soc or Interval(0.0, 0.02, 0.2)
    job = ChargeJob(
        label=label,
        soc=soc,
        temp_c=temp,
        rested_v=rested,
        charger_a=charger_a,
        charger_v=charger_v,
        swollen=swollen,
        leaking=leaking,
    )
    plan = plan_charge(job)
    if plan.refused:
        page = EnergyPage(
            kind="charge",
            data=plain(plan),
            head="DO NOT CHARGE IT NOW",
            style="bold red",
            texts=tuple(plan.refused),
        )
    else:
        page = EnergyPage(
            kind="charge",
            data=plain(plan),
            pairs=(
                ("current", f"{plan.current_a.best:.2g} A, at most {plan.current_a.high:.2g} A"),
                ("limit", span(plan.limit_v, "V")),
                ("hours", span(plan.hours, "h", digits=2)),
                ("stop", plan.stop),
                ("air", f"{plan.air_l_per_s:.2f} L/s for all current into gas"),
            ),
            parts=(("Steps", tuple(plan.steps)), ("Never", tuple(plan.never))),
        )
    finish(page, card=job_card, as_json=as_json)


@click.command(short_help="How long it can stand.")
@label_options
@class_option
@click.option("--soc", type=float, default=1.0, metavar="SHARE", help="Charge when put away, 0-1.")
@click.option(
    "--drain-ma", type=float, default=1.0, metavar="MA", show_default=True, help="Key off."
)
@click.option("--temp", type=float, default=15.0, metavar="C", help="Mean temperature.")
@click.option("--coldest", type=float, metavar="C", help="Coldest night.")
@click.option("--disconnected", is_flag=True, help="Negative lead off.")
@answer_options
def storage(
    class_id: str | None,
    soc: float,
    drain_ma: float,
    temp: float,
    coldest: float | None,
    disconnected: bool,
    card: Path | None,
    as_json: bool,
    **told: Any,  # noqa: ANN401 - what is printed on the battery
) -> None:
    """Tell the days until half, until it will not start, until it may freeze."""
    from chargewright.energy.storage import Stored, plan_storage

    job_card = opened(card)
    plan = plan_storage(
        Stored(
            label=label_of(told, job_card),
            class_id=class_of(class_id, job_card),
            soc=soc,
            drain_ma=drain_ma,
            temp_c=temp,
            coldest_c=coldest,
            disconnected=disconnected,
        )
    )
    page = EnergyPage(
        kind="storage",
        data=plain(plan),
        pairs=(
            ("to half", days_span(plan.to_half)),
            ("to no start", days_span(plan.to_no_start)),
            ("to freezing", days_span(plan.to_freezing)),
            ("charge every", f"{plan.recharge_every:.0f} days"),
        ),
        texts=tuple(plan.steps),
    )
    finish(page, card=job_card, as_json=as_json)
