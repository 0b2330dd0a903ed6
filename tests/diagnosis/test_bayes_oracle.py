"""The posterior against an independent exact inference engine, and against worked numbers.

Oracle: pyAgrum's LazyPropagation on a random discretised single-fault network (L1). G1 is the
polybox of de Kleer and Williams (1987); L3 a three-state Gaussian reading.
"""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chargewright.diagnosis.inference import entropy_bits, posterior
from chargewright.diagnosis.problem import Check, Problem
from chargewright.diagnosis.screening import information_bits
from chargewright.errors import ImpossibleReadingsError, InputError

FAULTS, READINGS, BINS = 12, 10, 20


def random_network(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Prior (12,) and laws (10, 12, 20) with some outcomes truly impossible."""
    rng = np.random.default_rng(seed)
    laws = rng.gamma(0.5, size=(READINGS, FAULTS, BINS))
    laws[rng.random(laws.shape) < 0.05] = 0.0
    return rng.dirichlet(np.ones(FAULTS)), laws / laws.sum(axis=2, keepdims=True)


def test_l1_same_posterior_as_pyagrum() -> None:
    gum = pytest.importorskip(
        "pyagrum", reason="pyagrum, the independent inference engine, is not installed"
    )
    prior, laws = random_network(20240607)
    net = gum.BayesNet("single fault")
    fault = net.add(gum.RangeVariable("fault", "", 0, FAULTS - 1))
    net.cpt(fault).fillWith(list(prior))
    for r in range(READINGS):
        reading = net.add(gum.RangeVariable(f"r{r}", "", 0, BINS - 1))
        net.addArc(fault, reading)
        for f in range(FAULTS):
            net.cpt(reading)[{"fault": f}] = list(laws[r, f])
    engine = gum.LazyPropagation(net)
    rng = np.random.default_rng(1)
    worst, compared = 0.0, 0
    while compared < 80:
        seen = rng.choice(READINGS, size=rng.integers(1, READINGS + 1), replace=False)
        truth = rng.choice(FAULTS, p=prior)
        values = {int(r): int(rng.choice(BINS, p=laws[r, truth])) for r in seen}
        engine.setEvidence({f"r{r}": v for r, v in values.items()})
        engine.makeInference()
        theirs = engine.posterior("fault").toarray()
        ours = posterior(prior, np.array([laws[r, :, v] for r, v in values.items()]))
        worst = max(worst, float(np.abs(ours - theirs).max()))
        compared += 1
    # measured 9.4e-16
    assert worst < 1e-12


def test_l2_impossible_findings_are_named() -> None:
    rows = np.array([[0.2, 0.0, 0.9], [0.5, 0.5, 0.0], [0.0, 0.3, 0.3], [0.1, 0.1, 0.1]])
    with pytest.raises(ImpossibleReadingsError, match="findings 1 to 3"):
        posterior(np.array([0.5, 0.3, 0.2]), rows)


@pytest.mark.parametrize(
    ("prior", "row"), [([0.5, 0.5], [np.nan, 0.1]), ([0.5, -0.5], [0.1, 0.1]), ([0, 0], [1, 1])]
)
def test_l2_nonsense_is_refused_not_spread(prior: list[float], row: list[float]) -> None:
    with pytest.raises(InputError):
        posterior(np.array(prior, dtype=float), np.array([row], dtype=float))


def test_thousand_small_likelihoods_do_not_underflow() -> None:
    # closed form: odds 2^1000 : 1, so the second world keeps 2^-1000
    found = posterior(np.array([0.5, 0.5]), np.tile([2e-30, 1e-30], (1000, 1)))
    assert found[1] == pytest.approx(2.0**-1000, rel=1e-9)


def test_l3_gaussian_reading() -> None:
    # ok .7 N(65, 4), short .2 N(45, 6), open .1 N(30, 10); reading 52
    mean, sd = np.array([65.0, 45.0, 30.0]), np.array([4.0, 6.0, 10.0])
    density = np.exp(-0.5 * ((52.0 - mean) / sd) ** 2) / sd
    found = posterior(np.array([0.7, 0.2, 0.1]), density[None, :])
    assert found == pytest.approx([0.047706, 0.904633, 0.047661], abs=5e-7)


POLYBOX = ("M1", "M2", "M3", "A1", "A2")
# a sound part is an equation on (X, Y, Z): X=6, Y=6, Z=6, X+Y=10 (=F), Y+Z=12 (=G)
EQUATIONS = {
    "M1": ((1, 0, 0), 6),
    "M2": ((0, 1, 0), 6),
    "M3": ((0, 0, 1), 6),
    "A1": ((1, 1, 0), 10),
    "A2": ((0, 1, 1), 12),
}


def polybox() -> tuple[np.ndarray, np.ndarray, list[list[int | None]]]:
    """Prior and consistency of the 32 subsets of faulty parts, and what each says of X, Y, Z."""
    prior, consistent, predicted = [], [], []
    for faulty in product((False, True), repeat=5):
        sound = [EQUATIONS[p] for p, bad in zip(POLYBOX, faulty, strict=True) if not bad]
        a = np.array([row for row, _ in sound], dtype=float).reshape(-1, 3)
        b = np.array([value for _, value in sound], dtype=float)
        rank = np.linalg.matrix_rank(a) if len(a) else 0
        joint = np.linalg.matrix_rank(np.column_stack([a, b])) if len(a) else 0
        prior.append(0.01 ** sum(faulty) * 0.99 ** (5 - sum(faulty)))
        consistent.append(float(rank == joint))
        point = np.linalg.lstsq(a, b, rcond=None)[0] if len(a) else np.zeros(3)
        known: list[int | None] = []
        for axis in np.eye(3):
            fixed = len(a) > 0 and np.linalg.matrix_rank(np.vstack([a, axis])) == rank
            known.append(round(float(axis @ point)) if fixed else None)
        predicted.append(known)
    return np.array(prior), np.array(consistent), predicted


def test_g1_polybox() -> None:
    prior, consistent, predicted = polybox()
    assert consistent.sum() == 27
    belief = posterior(prior, consistent[None, :])
    subsets = list(product((False, True), repeat=5))

    def chance(*parts: str) -> float:
        return float(belief[subsets.index(tuple(p in parts for p in POLYBOX))])

    assert chance("M1") == pytest.approx(0.478026, abs=5e-7)
    assert chance("A1") == pytest.approx(0.478026, abs=5e-7)
    marginals = np.array(subsets, dtype=float).T @ belief
    assert marginals == pytest.approx([0.497635, 0.019609, 0.014780, 0.497635, 0.014780], abs=5e-7)
    assert entropy_bits(belief) == pytest.approx(1.35945, abs=5e-6)
    laws = []
    for axis in range(3):
        values: list[int | None] = [
            *sorted({p[axis] for p in predicted if p[axis] is not None}),  # type: ignore[type-var]
            None,
        ]
        laws.append((values, np.array([[float(p[axis] == v) for v in values] for p in predicted])))
    x = dict(zip(laws[0][0], belief @ laws[0][1], strict=True))
    assert x[4] == pytest.approx(0.492561, abs=5e-7)
    assert x[6] == pytest.approx(0.502365, abs=5e-7)
    assert x[None] == pytest.approx(0.005074, abs=5e-7)
    y = dict(zip(laws[1][0], belief @ laws[1][1], strict=True))
    assert y[6] == pytest.approx(0.990097, abs=5e-7)
    assert y[4] == pytest.approx(0.009706, abs=5e-7)
    z = dict(zip(laws[2][0], belief @ laws[2][1], strict=True))
    assert z[6] == pytest.approx(0.994926, abs=5e-7)
    assert z[8] == pytest.approx(0.004829, abs=5e-7)
    probes = Problem(
        loss=np.zeros((1, 32)),
        checks=tuple(
            Check(name=name, outcomes=law, minutes=1.0)
            for name, (_, law) in zip("XYZ", laws, strict=True)
        ),
    )
    bits = information_bits(probes, belief)
    assert bits == pytest.approx([1.0408, 0.0815, 0.0474], abs=5e-5)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_i8_order_of_entry_changes_nothing(seed: int) -> None:
    rng = np.random.default_rng(seed)
    prior, rows = rng.dirichlet(np.ones(7)), rng.random((6, 7))
    assert np.array_equal(posterior(prior, rows), posterior(prior, rows[rng.permutation(6)]))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(0, 6))
def test_findings_may_come_in_two_batches(seed: int, cut: int) -> None:
    rng = np.random.default_rng(seed)
    prior, rows = rng.dirichlet(np.ones(7)), rng.random((6, 7)) + 1e-3
    at_once = posterior(prior, rows)
    in_two = posterior(posterior(prior, rows[:cut]), rows[cut:])
    assert np.allclose(at_once, in_two, rtol=1e-12, atol=1e-15)
