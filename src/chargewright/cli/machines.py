"""``chargewright machines``: the classes, and what is typical, allowed and possible on each."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from chargewright.cli.screen import Screen, echo_json

if TYPE_CHECKING:
    from chargewright.machine.model import Machine

# What a technician compares with a manual; --json gives every parameter.
TYPICAL = (
    ("setpoint_v", "regulator holds", "V"),
    ("winding_ohm_a", "one winding", "ohm"),
    ("emf_v_per_krpm_a", "EMF of a winding per 1000 rpm", "V"),
    ("pole_pairs", "pole pairs", ""),
    ("running_load_a", "ignition, pump, instruments", "A"),
    ("light_load_a", "lamps", "A"),
    ("drain_a", "key-off current", "A"),
    ("capacity_ah", "battery, true", "Ah"),
    ("rated_cca_a", "battery, cold cranking (SAE)", "A"),
    ("crank_a", "cranking current", "A"),
    ("plug_ohm_a", "alternator plug, one contact", "ohm"),
    ("charge_lead_ohm", "charge lead", "ohm"),
    ("fuse_ohm", "main fuse and holder", "ohm"),
    ("reg_ground_ohm", "regulator ground", "ohm"),
)

TYPICAL_COIL = (
    ("light_emf_v_per_krpm", "EMF of the lighting coil per 1000 rpm", "V"),
    ("light_ohm", "lighting coil", "ohm"),
    ("light_clamp_v", "AC regulator conducts from", "V"),
    ("lamp_ohm", "headlamp, alight", "ohm"),
)
TYPICAL_FIELD = (
    ("field_ohm", "field coil", "ohm"),
    ("brush_ohm", "brushes and slip rings", "ohm"),
    ("field_feed_ohm", "feed of the field, to the regulator", "ohm"),
    ("field_residual", "flux left without field current, share", ""),
)
LAMPS = {"battery": "on the battery", "coil": "on a coil of its own"}


@click.command(short_help="List the classes of machine, or tell about one.")
@click.argument("class_id", metavar="[CLASS]", required=False)
@click.option("--json", "as_json", is_flag=True, help="Write JSON.")
def machines(class_id: str | None, as_json: bool) -> None:
    """List the classes of machine; with a CLASS, its figures, limits and possible causes."""
    from chargewright.machine.classes import class_ids, read_class
    from chargewright.machine.conditioning import load_class

    if class_id is not None:
        machine = load_class(class_id)
        if as_json:
            from chargewright.jobs.described import machine_dict

            echo_json(machine_dict(machine))
        else:
            _show(Screen.here(), machine)
        return
    titles = [(name, read_class(name).title) for name in class_ids()]
    if as_json:
        echo_json([{"id": name, "title": title} for name, title in titles])
        return
    screen = Screen.here()
    for name, title in titles:
        screen.line(name, "bold")
        screen.line(title, indent=2)
    screen.line("'chargewright machines CLASS' tells more of one.", "dim")


def _show(screen: Screen, machine: Machine) -> None:
    from chargewright.cli.words import limit_text, percent, scatter_text, source_text
    from chargewright.jobs.described import possible
    from chargewright.machine.sources import source_of

    layout, speeds = machine.layout, machine.speeds
    screen.line(machine.title, "bold")
    screen.line(machine.class_id, "dim")
    screen.pairs(
        [
            (
                "alternator",
                f"{layout.winding.value.replace('_', '-')}, about {machine.output_a:.0f} A at most",
            ),
            ("regulator", f"{layout.regulator.value}, senses at its {layout.sense.value}"),
            ("charges to", layout.charge_to.value),
            ("headlamp", LAMPS[layout.lighting]),
            ("idle", f"{speeds.rpm('idle'):g} rpm"),
            ("mid", f"{speeds.rpm('mid'):g} rpm"),
            ("high", f"{speeds.rpm('high'):g} rpm"),
            ("lights", "on whenever it runs" if machine.lights_always_on else "have a switch"),
        ],
        indent=0,
    )
    screen.heading("Typical, and 95% of sound ones")
    typical = machine.typical()
    own = (TYPICAL_COIL if layout.lighting_coil else ()) + (TYPICAL_FIELD if layout.field else ())
    for name, title, unit in TYPICAL + own:
        source = machine.provenance(name)
        text = scatter_text(machine.scatter[name], typical[name], unit)
        screen.line(f"{title}: {text}", "bold")
        screen.line(source_text(source), "dim", indent=2)
    screen.heading("Limits")
    for limit in machine.limits:
        per = " per 1000 rpm" if limit.per_krpm else ""
        screen.line(f"{limit.title} ({limit.when.engine.value}): {limit_text(limit)}{per}", "bold")
        source = source_of(limit.source, limit.id)
        screen.line(source_text(source), "dim", indent=2)
    screen.heading("Causes it can have, before anything is measured")
    causes = sorted(possible(machine), key=lambda cause: -cause.share)
    total = sum(cause.share for cause in causes)
    rows = [[percent(c.share / total).rjust(4), f"{c.title} ({c.component.value})"] for c in causes]
    screen.rows(rows)
    screen.line("All shares are assumptions; your confirmed jobs know better.", "dim")
