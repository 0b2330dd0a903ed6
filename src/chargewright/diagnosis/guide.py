"""Where the readings lead a hypothesis' machines: a normal law fitted to machines already solved.

How far each reading is missed, in standard deviations, is taken as a straight line in the
latents, by least squares over the machines seen so far. With the standard normal prior that
gives a normal law of the latents under the readings. Proposals that leave this law untouched
follow the ridges along which readings are traded against each other; what the circuit does
otherwise is left to the acceptance (a preconditioned Crank-Nicolson move with the local
linearised law in place of the prior: D. Rudolf and B. Sprungk, Foundations of Computational
Mathematics 18, 2018, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from chargewright.diagnosis.model_error import model_sigma
from chargewright.diagnosis.population import Ints
from chargewright.diagnosis.predict import Predictions
from chargewright.diagnosis.question import Answer
from chargewright.machine.parameters import Array
from chargewright.machine.points import Function

FIGURES = ("value", "about", "between")
FARTHEST = 30.0  # standard deviations beyond which a miss is not told from a greater one
RIDGE = 10.0  # machines' worth of doubt that a latent bears on a reading at all
PACES = np.array([1.0, 0.6, 0.3])  # of a proposal, relative to the law's width


def missed(predictions: Predictions, answer: Answer, rows: Ints | None = None) -> Array:
    """Return by how many standard deviations machines (r,) miss a figure; 0 where none was read."""
    shown = answer.shown
    predictions = predictions.at(answer)
    count = len(predictions.params) if rows is None else len(rows)
    if answer.question.function is Function.LOOK or shown is None or shown.kind not in FIGURES:
        return np.zeros(count)
    told = predictions.indication(
        answer.question, answer.meter, nulled=answer.nulled, lsd=shown.place or None, rows=rows
    )
    sigma = model_sigma(answer.question, told.centre, predictions.layout)
    spread = np.hypot(told.spread(sigma), shown.reach)
    away = (told.centre - shown.middle) / spread
    return np.nan_to_num(np.clip(away, -FARTHEST, FARTHEST))


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """A normal law of the latents: the prior's, and ``lines`` (m, d) of it each known so well.

    Its precision is 1 + linesᵀ lines; ``mean`` (d,). ``inner`` (m, m) is the inverse of
    1 + lines linesᵀ, all that is needed of it (the matrix inversion lemma).
    """

    mean: Array
    lines: Array
    inner: Array

    def log_density(self, z: Array) -> Array:
        """Return the log-density (n,) at ``z`` (n, d) against the prior's, up to a constant."""
        along = (z - self.mean) @ self.lines.T
        return np.asarray(z @ self.mean - 0.5 * (along**2).sum(axis=1))

    def proposed(self, z: Array, rng: np.random.Generator) -> Array:
        """Return proposals (n, d) from ``z`` (n, d) that leave the law untouched."""
        pace = rng.choice(PACES, size=len(z))[:, None]
        free = rng.standard_normal(z.shape)
        told = rng.standard_normal((len(z), len(self.lines)))
        fresh = free + (told - free @ self.lines.T) @ self.inner @ self.lines
        return np.asarray(self.mean + np.sqrt(1.0 - pace**2) * (z - self.mean) + pace * fresh)


def guide(z: Array, misses: Array, power: Array) -> Guide:
    """Return the law fitted to machines ``z`` (n, d) that miss the readings by ``misses`` (m, n).

    ``power`` (m,) is how far each reading counts already.
    """
    middle, off = z.mean(axis=0), misses.mean(axis=1)
    about, rest = z - middle, (misses - off[:, None]).T
    slope = np.linalg.solve(about.T @ about + RIDGE * np.eye(z.shape[1]), about.T @ rest)
    unexplained = np.mean((rest - about @ slope) ** 2, axis=0)
    scale = np.sqrt(power / (1.0 + unexplained))
    lines = (slope * scale).T
    aim = scale * (slope.T @ middle - off)
    inner = np.linalg.inv(np.eye(len(lines)) + lines @ lines.T)
    return Guide(mean=lines.T @ (inner @ aim), lines=lines, inner=inner)
