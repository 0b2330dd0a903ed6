"""Four numbers at once: what a step knows of three legs and the plus, or of four branches."""

from __future__ import annotations

from chargewright.circuit.compiled import inlined

Four = tuple[float, float, float, float]
NOTHING = (0.0, 0.0, 0.0, 0.0)


@inlined
def plus(a: Four, b: Four) -> Four:
    """Return a + b."""
    return a[0] + b[0], a[1] + b[1], a[2] + b[2], a[3] + b[3]


@inlined
def minus(a: Four, b: Four) -> Four:
    """Return a - b."""
    return a[0] - b[0], a[1] - b[1], a[2] - b[2], a[3] - b[3]


@inlined
def plus_times(a: Four, b: Four, c: Four) -> Four:
    """Return a + b c, number by number."""
    return a[0] + b[0] * c[0], a[1] + b[1] * c[1], a[2] + b[2] * c[2], a[3] + b[3] * c[3]


@inlined
def end_of(mean: Four, start: Four) -> Four:
    """Return the ends of what runs straight, from its means and starts."""
    return (
        2.0 * mean[0] - start[0],
        2.0 * mean[1] - start[1],
        2.0 * mean[2] - start[2],
        2.0 * mean[3] - start[3],
    )


@inlined
def blend(share: float, a: Four, b: Four) -> Four:
    """Return ``share`` of a and the rest of b."""
    rest = 1.0 - share
    return (
        share * a[0] + rest * b[0],
        share * a[1] + rest * b[1],
        share * a[2] + rest * b[2],
        share * a[3] + rest * b[3],
    )
