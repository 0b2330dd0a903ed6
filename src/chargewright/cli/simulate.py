"""``chargewright simulate``: what would it read? Every check, and the waveforms as a picture."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from chargewright.cli.screen import Cell, Screen, echo_json, working
from chargewright.errors import InputError

if TYPE_CHECKING:
    from chargewright.simulation.readings import CheckReading
    from chargewright.simulation.run import Simulation

OUT = click.Path(dir_okay=False, path_type=Path)
PNG_PX = {"phone": 1080, "page": 1440}


@click.command(short_help="What would it read? Any machine with any cause.")
@click.argument("machine", metavar="MACHINE")
@click.option(
    "--cause", "causes", multiple=True, metavar="ID[=SEVERITY]", help="A cause; twice for two."
)
@click.option("--rpm", type=float, help="Engine speed of all running checks and of the waveforms.")
@click.option("--lights/--no-lights", default=None, help="Lamps on or off while running.")
@click.option("--plug-out", is_flag=True, help="Alternator plug open while running.")
@click.option("--hot/--cold", default=None, help="Alternator and regulator hot or cold.")
@click.option("--meter", metavar="NAME", help="Meter card: name or TOML file.")
@click.option("--nulled", is_flag=True, help="The meter's leads are nulled before ohms.")
@click.option("--units", type=int, default=200, show_default=True, help="Machines drawn.")
@click.option("--seed", type=int, default=1, show_default=True, help="Of the machines drawn.")
@click.option("--svg", type=OUT, help="Write the waveforms as SVG.")
@click.option("--png", type=OUT, help="Write the waveforms as PNG.")
@click.option(
    "--size",
    type=click.Choice(["phone", "page"]),
    default="page",
    show_default=True,
    help="Shape of the picture.",
)
@click.option(
    "--theme",
    type=click.Choice(["light", "dark", "print"]),
    default="light",
    show_default=True,
    help="Colours of the picture.",
)
@click.option("--csv", "csv_file", type=OUT, help="Write the waveforms as columns.")
@click.option("--json", "as_json", is_flag=True, help="Write JSON.")
def simulate(
    machine: str,
    causes: tuple[str, ...],
    rpm: float | None,
    lights: bool | None,
    plug_out: bool,
    hot: bool | None,
    meter: str | None,
    nulled: bool,
    units: int,
    seed: int,
    svg: Path | None,
    png: Path | None,
    size: str,
    theme: str,
    csv_file: Path | None,
    as_json: bool,
) -> None:
    """Tell what every check would read on a MACHINE (a class) with causes, beside a sound one.

    A severity is in the unit the cause is told in, as plug_resistance=0.2 (ohm) or drain=50mA;
    without one it varies from machine to machine as usual.
    """
    with working("Simulating"):
        from chargewright.simulation.run import simulate as run

        found = run(
            machine,
            causes,
            rpm=rpm,
            lights=lights,
            plug_out=plug_out,
            hot=hot,
            meter=meter,
            nulled=nulled,
            units=units,
            seed=seed,
        )
    _write_pictures(found, svg, png, size, theme)
    if csv_file is not None:
        _write(csv_file, _columns(found).encode())
    if as_json:
        from chargewright.pictures.would_read import simulation_dict

        echo_json(simulation_dict(found))
    else:
        _show(Screen.here(), found)


def _write_pictures(
    found: Simulation, svg: Path | None, png: Path | None, size: str, theme: str
) -> None:
    if svg is None and png is None:
        return
    from chargewright.pictures.png import to_png
    from chargewright.pictures.simulated import simulation_picture

    drawn = simulation_picture(found, size=size, theme=theme)  # type: ignore[arg-type]
    if svg is not None:
        _write(svg, drawn.encode())
    if png is not None:
        _write(png, to_png(drawn, PNG_PX[size]))


def _write(path: Path, data: bytes) -> None:
    try:
        path.write_bytes(data)
    except OSError as error:
        raise InputError(f"{path}: cannot be written ({error.strerror})") from error


def _columns(found: Simulation) -> str:
    """Return the waveforms as comma-separated columns: time, weight, cutting, then all arrays."""
    from chargewright.pictures.simulated import EXPECTED

    if not found.has_traces:
        raise InputError(f"no waveforms of {found.machine.class_id!r}: {EXPECTED}")
    traces = found.traces
    arrays = traces.arrays()
    rows = [",".join(("time_ms", "weight", "cutting", *arrays))]
    for i in range(traces.time_ms.size):
        first = f"{traces.time_ms[i]:.6f},{traces.weight[i]:.8f},{int(traces.cutting[i])}"
        rows.append(",".join((first, *(f"{values[i]:.6g}" for values in arrays.values()))))
    return "\n".join(rows) + "\n"


def _show(screen: Screen, found: Simulation) -> None:
    """Write causes, then the checks that tell them apart, then all others."""
    screen.line(found.machine.title, "bold")
    for cause in found.causes or ("nothing wrong",):
        screen.line(cause, "bold cyan", indent=2)
    screen.line(
        f"{found.units} machines of the class drawn, read with {found.meter.title}. "
        "Figures: the middle reading, and between which nine in ten lie.",
        "dim",
    )
    known = [one for one in found.readings if one.shows is not None]
    if found.causes:
        told = [one for one in known if one.told]
        leaning = [one for one in known if one.leans and not one.told]
        same = [one for one in known if not (one.told or one.leans)]
        screen.heading("Tells it from a sound machine")
        if told:
            _table(screen, told, both=True)
        else:
            screen.line("No single check does on every machine; the readings overlap.")
        if leaning:
            screen.heading("Moves, but overlaps with sound machines")
            _table(screen, leaning, both=True)
        screen.heading("Reads as on a sound machine")
        _table(screen, same, both=False)
    else:
        screen.heading("Would read")
        _table(screen, known, both=False)
    lacking = sorted({one.question.function.value for one in found.readings if one.shows is None})
    if lacking:
        screen.line(f"This meter cannot do: {', '.join(lacking)}.", "dim")
    _show_waveforms(screen, found)
    screen.line("Computed for the class; the maker's manual for this machine comes first.", "dim")


def _show_waveforms(screen: Screen, found: Simulation) -> None:
    from chargewright.cli.words import percent
    from chargewright.jobs.step_words import state_words

    if not found.has_traces:
        return
    traces = found.traces
    screen.heading("Waveforms")
    screen.line(f"{state_words(found.state)}; one period {traces.period_ms:.3g} ms")
    if traces.cut_share > 0.0:
        screen.line(f"The regulator holds charging off {percent(traces.cut_share)} of the time.")
    if not traces.converged:
        screen.line("No steady state was reached: take the curves as a rough guide.", "yellow")
    screen.line("--svg, --png and --csv write them.", "dim")


def _table(screen: Screen, rows: list[CheckReading], *, both: bool) -> None:
    """Write one check per line, or per three lines on a narrow screen."""
    from chargewright.pictures.would_read import reading_text, reading_title

    if screen.narrow:
        for one in rows:
            screen.line(reading_title(one), "bold")
            screen.line(reading_text(one, one.shows), indent=2)
            if both:
                screen.line(f"sound: {reading_text(one, one.sound)}", "dim", indent=2)
        return
    cells: list[list[Cell]] = []
    if both:
        cells.append([("reads", "bold"), ("sound", "bold"), ("check", "bold")])
    for one in rows:
        cell: list[Cell] = [reading_text(one, one.shows)]
        if both:
            cell.append((reading_text(one, one.sound), "dim"))
        cells.append([*cell, reading_title(one)])
    screen.rows(cells)
