"""Refined populations: how far evidence is off brute force, and how far it wanders with the seed.

    python -m benchmarks.evidence

Two sets of readings that once went wrong, against brute force: it weighs 60,000 machines of each
hypothesis, the refined population takes the readings in one by one, three seeds. Then a set too
long for brute force, of an invented machine: mean and standard deviation over six seeds.
"""

from __future__ import annotations

import numpy as np

from chargewright.checks.load import load_book
from chargewright.diagnosis.belief import believe, likelihood
from chargewright.diagnosis.population import name_of, populate
from chargewright.diagnosis.predict import Predictions
from chargewright.diagnosis.question import Answer, question_of
from chargewright.diagnosis.refine import learn
from chargewright.machine.conditioning import load_class
from chargewright.machine.draw import LATENTS, draw
from chargewright.machine.model import Machine
from chargewright.machine.prior import prior
from chargewright.meters.load import load_meter
from chargewright.meters.shown import Shown, typed_lsd

SPORT = load_class("sport-600-1000")
METER = load_meter("trms-6000")
BRUTE = 60_000
SEEDS = 6
LONG = (
    "snowmobile",
    "warning_light_or_low_volts",
    ("stator_turns_shorted", "magnets_weak", "stator_wrong", "regulator_low"),
    "ac_plugged_high_v_bc=10.13 drop_lead_mid_v=0.0837 crank_v=9.69 drop_negative_high_v=0.0391 "
    "charge_idle_a=-8.39 rest_v=12.36 charge_mid_a=0.55 ac_open_idle_v_ca=9.00 "
    "charge_high_a=0.53 high_lights_v=13.31 drop_positive_high_v=0.0867 output_high_a=10.39 "
    "mid_v=13.39",
)
JOBS = [
    (
        "after_standing",
        ("battery_discharged", "drain"),
        "crank_v=8.06 rest_v=12.15 charge_idle_a=-0.11 mid_v=13.43 charge_mid_a=16.54",
    ),
    (
        "warning_light_or_low_volts",
        ("regulator_low", "battery_worn+regulator_low"),
        "charge_high_a=0.14 high_lights_v=12.86 drop_positive_mid_v=0.0510 "
        "drop_negative_high_v=0.0223 ripple_v=0.3711 crank_v=8.17 rest_v=12.29 "
        "drop_crank_negative_v=0.1372 ac_plugged_idle_v_ca=11.49 output_high_a=9.44",
    ),
]


def answers_of(text: str, machine: Machine = SPORT) -> list[Answer]:
    """Return answers from ``check=figure`` words."""
    found = []
    book = load_book().catalogue(
        machine.layout, machine.speeds, lights_always_on=machine.lights_always_on
    )
    for word in text.split():
        name, figure = word.split("=")
        check = book.get(name)
        shown = Shown(value=float(figure), lsd=typed_lsd(figure))
        found.append(
            Answer(
                id=name, title=check.title, question=question_of(check), meter=METER, shown=shown
            )
        )
    return found


def brute(complaint: str, name: str, answers: list[Answer]) -> float:
    """Return prior times evidence by plain importance sampling."""
    hypothesis = next(h for h in prior(SPORT, complaint) if name_of(h) == name)
    z = np.random.default_rng(5).standard_normal((BRUTE, LATENTS))
    predictions = Predictions(SPORT.layout, draw(SPORT, hypothesis.causes, z))
    logs = sum(likelihood(predictions, answer) for answer in answers)
    return float(hypothesis.share * np.exp(logs).mean())


def refined(complaint: str, names: tuple[str, str], answers: list[Answer], seed: int) -> float:
    """Return the ratio of the second hypothesis' share to the first's."""
    population = populate(SPORT, prior(SPORT, complaint), np.random.default_rng(seed))
    belief = believe(population, ())
    for count in range(1, len(answers) + 1):
        rng = np.random.default_rng([seed, count])
        belief = learn(belief.population, answers[:count], rng, belief)
    shares = dict(
        zip(map(name_of, belief.population.hypotheses), belief.hypothesis_shares(), strict=True)
    )
    return float(shares[names[1]] / shares[names[0]])


def wanderings() -> None:
    """Print how the evidence of one hypothesis alone wanders with the seed, by readings taken."""
    class_id, complaint, names, text = LONG
    machine = load_class(class_id)
    answers = answers_of(text, machine)
    for name in names:
        hypothesis = next(h for h in prior(machine, complaint) if name_of(h) == name)
        for count in (4, 8, len(answers)):
            found = []
            for seed in range(SEEDS):
                rng = np.random.default_rng(seed)
                population = populate(machine, [hypothesis], rng)
                belief = learn(population, answers[:count], rng, believe(population, ()))
                found.append(belief.log_evidence + np.log(hypothesis.share))
            print(
                f"{name} after {count} readings: ln(prior x evidence) {np.mean(found):.1f}, "
                f"standard deviation {np.std(found, ddof=1):.2f} over {SEEDS} seeds",
                flush=True,
            )


def main() -> None:
    """Print brute force and refined ratios."""
    for complaint, names, text in JOBS:
        answers = answers_of(text)
        exact = brute(complaint, names[1], answers) / brute(complaint, names[0], answers)
        ratios = [refined(complaint, names, answers, seed) for seed in (1, 2, 3)]
        told = ", ".join(f"{ratio:.3f}" for ratio in ratios)
        print(f"{names[1]} : {names[0]}  brute force {exact:.3f}, refined {told}", flush=True)
    wanderings()


if __name__ == "__main__":
    main()
