"""Energy commands about the whole machine: drain, budget, ride, choose-battery."""

from __future__ import annotations

from pathlib import Path

import click

from chargewright.cli.energy_options import (
    FILE,
    answer_options,
    class_of,
    class_option,
    machine_for,
    opened,
)
from chargewright.cli.energy_page import EnergyPage, finish
from chargewright.cli.screen import working
from chargewright.energy.words import plain, share_span, span
from chargewright.errors import InputError, nearest


@click.command(short_help="Judge a key-off current and plan the fuse search.")
@click.argument("shown_ma", type=float)
@class_option
@click.option("--meter-u", type=float, default=0.05, metavar="MA", help="Its uncertainty.")
@click.option("--burden", type=float, default=2.0, metavar="OHM", help="Meter and leads.")
@click.option("--fuse", "fuses", multiple=True, metavar="NAME=SHARE", help="A suspect; repeat.")
@answer_options
def drain(
    shown_ma: float,
    class_id: str | None,
    meter_u: float,
    burden: float,
    fuses: tuple[str, ...],
    card: Path | None,
    as_json: bool,
) -> None:
    """Judge SHOWN_MA milliamperes with the key off."""
    from chargewright.energy.drain import Branch, drain_limit, judge_drain, search_plan

    job_card = opened(card)
    limit_ma, source = drain_limit(machine_for(class_id, job_card))
    found = judge_drain(
        shown_ma, meter_u_ma=meter_u, burden_ohm=burden, limit_ma=limit_ma, limit_source=source
    )
    branches = tuple(Branch(name=name, share=share) for name, share in map(_fuse, fuses))
    split = search_plan(branches) if branches else None
    texts = tuple(found.cautions)
    if split is not None:
        texts = (
            f"Pull first: {', '.join(split.pull)}",
            "Does the reading fall? Go on among these; if not, among the others.",
            *texts,
        )
    page = EnergyPage(
        kind="drain",
        data={"verdict": found, "search": split},
        head=str(found.colour).upper(),
        pairs=(("drain", span(found.true_ma, "mA")), ("limit", f"{limit_ma:g} mA ({source})")),
        texts=texts,
    )
    finish(page, card=job_card, as_json=as_json)


def _fuse(text: str) -> tuple[str, float]:
    name, _, share = text.rpartition("=")
    try:
        return (name or text, float(share) if name else 1.0)
    except ValueError:
        raise InputError(f"--fuse {text!r}: expected NAME=SHARE, as 'clock=0.3'") from None


@click.command(short_help="Does the alternator carry the loads?")
@class_option
@click.option("--loads", "loads_file", type=FILE, help="Loads (TOML), else the usual ones.")
@click.option("--cruise", type=float, metavar="RPM", help="Engine speed at cruise.")
@click.option("--measured", nargs=3, type=float, multiple=True, metavar="RPM A V", help="Output.")
@click.option("--wire", nargs=2, type=float, metavar="A M", help="Wire for A over M metres.")
@answer_options
def budget(
    class_id: str | None,
    loads_file: Path | None,
    cruise: float | None,
    measured: tuple[tuple[float, float, float], ...],
    wire: tuple[float, float] | None,
    card: Path | None,
    as_json: bool,
) -> None:
    """Balance at idle and cruise, break-even speed and headroom for an accessory."""
    from chargewright.energy.budget import load_budget
    from chargewright.energy.heating import heat_of
    from chargewright.energy.loads import read_loads, usual_loads
    from chargewright.energy.output import Measured
    from chargewright.energy.wire import choose_wire

    job_card = opened(card)
    machine = machine_for(class_id, job_card)
    loads = usual_loads(machine) if loads_file is None else read_loads(loads_file)
    told = [Measured(rpm=rpm, amps=amps, volts=volts) for rpm, amps, volts in measured]
    found = load_budget(machine, loads, cruise_rpm=cruise, measured=told)
    heat = heat_of(machine, rpm=found.cruise.rpm, load_a=found.cruise.load_a)
    cable = None if wire is None else choose_wire(wire[0], wire[1])
    rows = [("loads", f"{found.idle.load_a:.1f} A")]
    for name, at in (("idle", found.idle), ("cruise", found.cruise)):
        rows.append(
            (
                f"{name}, {at.rpm:g} rpm",
                f"{span(at.available_a, 'A')}; battery pays: {at.negative:.0%}",
            )
        )
    rows.append(("break-even", span(found.break_even_rpm, "rpm")))
    rows.append(("room at cruise", span(found.headroom_a, "A")))
    if heat is not None:
        rows.append(("stator heat, shunt", span(heat.stator_shunt_w, "W", digits=2)))
        rows.append(("stator heat, series", span(heat.stator_series_w, "W", digits=2)))
    if cable is not None:
        fuse = f"{cable.mm2:g} mm2, drops {cable.drop_v:.2f} V, fuse {cable.fuse_a:g} A"
        rows.append(("wire", fuse))
    page = EnergyPage(
        kind="budget",
        data={
            **plain(found),
            "heat": None if heat is None else plain(heat),
            "wire": plain(cable),
        },
        pairs=tuple(rows),
        texts=tuple(found.notes),
    )
    finish(page, card=job_card, as_json=as_json)


@click.command(short_help="Days of commuting: will it still start?")
@click.argument("trace", type=FILE)
@class_option
@click.option("--column", metavar="NAME", help="Column of the file to take.")
@click.option("--days", type=int, default=30, show_default=True, help="Days in all.")
@click.option("--rides", type=int, default=2, help="Rides on a riding day.", show_default=True)
@click.option("--temp", type=float, default=15.0, help="Mean morning temperature.", metavar="C")
@click.option("--extra-a", type=float, default=0.0, help="Accessories, mean.", metavar="A")
@click.option("--drain-ma", type=float, help="Key-off current.", metavar="MA")
@click.option("--units", type=int, default=300, help="Machines drawn.", show_default=True)
@click.option("--svg", type=click.Path(dir_okay=False, path_type=Path), help="Write a plot.")
@answer_options
def ride(
    trace: Path,
    class_id: str | None,
    column: str | None,
    days: int,
    rides: int,
    temp: float,
    extra_a: float,
    drain_ma: float | None,
    units: int,
    svg: Path | None,
    card: Path | None,
    as_json: bool,
) -> None:
    """Ride TRACE (CSV of time_s and rpm or speed_kmh) twice a day, parked between."""
    from chargewright.energy.commute import Habit, simulate
    from chargewright.energy.plot import commute_svg
    from chargewright.energy.trace import Gearing, ride_shares

    if not 10 <= units <= 5000:
        raise InputError(f"--units {units}: expected 10 to 5000 machines")
    job_card = opened(card)
    machine = machine_for(class_id, job_card)
    gearing = Gearing(idle_rpm=machine.speeds.idle_rpm)
    shares = ride_shares(trace, column=column, gearing=gearing)
    habit = Habit(days=days, rides=rides, mean_c=temp, extra_a=extra_a, drain_ma=drain_ma)
    with working("riding"):
        done = simulate(machine, shares, habit, units=units)
    if svg is not None:
        try:
            svg.write_text(commute_svg(done), encoding="utf-8")
        except OSError as error:
            raise InputError(f"{svg}: cannot be written ({error.strerror})") from error
    shown = [day for day in range(days) if day % 7 == 4 or day == days - 1]
    rows = [
        {"day": day, "starts": done.chance_of_start(day), "soc": plain(done.soc_on(day))}
        for day in range(days)
    ]
    left_out = f"{done.unfit:.0%} would not start at {temp:g} C even full: left out."
    page = EnergyPage(
        kind="ride",
        data={"days": rows, "unfit": done.unfit},
        pairs=tuple(
            (
                f"day {day + 1}" + (", Friday" if day % 7 == 4 else ""),
                f"starts {done.chance_of_start(day):.0%}, charge {share_span(done.soc_on(day))}",
            )
            for day in shown
        ),
        texts=(left_out,) if done.unfit > 0.005 else (),
    )
    finish(page, card=job_card, as_json=as_json)


@click.command("choose-battery", short_help="CCA and Ah a machine needs; does lithium fit?")
@class_option
@click.option(
    "--coldest", type=float, default=0.0, metavar="C", show_default=True, help="Coldest start."
)
@click.option("--stands", type=float, default=14.0, metavar="DAYS", show_default=True, help="Idle.")
@click.option(
    "--drain-ma", type=float, default=1.0, metavar="MA", show_default=True, help="Key off."
)
@click.option("--chemistry", default="agm", metavar="NAME", show_default=True, help="Its kind.")
@click.option("--regulated", nargs=2, type=float, metavar="V V", help="Charging voltage, ends.")
@answer_options
def choose_battery(
    class_id: str | None,
    coldest: float,
    stands: float,
    drain_ma: float,
    chemistry: str,
    regulated: tuple[float, float] | None,
    card: Path | None,
    as_json: bool,
) -> None:
    """Tell what a new battery must be able to do."""
    from chargewright.energy.choice import Need, lithium_fit
    from chargewright.energy.choice import choose_battery as choose
    from chargewright.machine.layout import Chemistry
    from chargewright.machine.spec import Range

    kinds = [one.value for one in Chemistry]
    if chemistry not in kinds:
        raise InputError(f"--chemistry {chemistry!r} is not known; {nearest(chemistry, kinds)}")
    job_card = opened(card)
    need = Need(
        class_id=class_of(class_id, job_card),
        coldest_c=coldest,
        stands_days=stands,
        drain_ma=drain_ma,
        chemistry=Chemistry(chemistry),
    )
    found = choose(need)
    volts = None if regulated is None else Range(*sorted(regulated))
    lithium = None
    if need.chemistry is Chemistry.LIFEPO4:
        lithium = lithium_fit(volts, coldest_c=coldest)
    page = EnergyPage(
        kind="choose-battery",
        data={"choice": found, "lithium": lithium},
        pairs=(
            ("cold cranking", span(found.cca_a, "A SAE")),
            ("true capacity", span(found.capacity_ah, "Ah", digits=2)),
            ("on the label", span(found.label_ah, "Ah", digits=2)),
        ),
        texts=tuple(found.notes),
        parts=() if lithium is None else ((f"Lithium: {lithium.fit}", tuple(lithium.reasons)),),
    )
    finish(page, card=job_card, as_json=as_json)
