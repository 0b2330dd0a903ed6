"""Chooses the next period's start: currents of both modes and the battery's voltage together.

A period maps its start to its end, and the battery's law maps the period's output to the
voltage it ends at. Anderson's mixing of depth two (D. Anderson, J. ACM 12, 1965, from memory)
weighs the last three such maps so that what is left between start and end is smallest, which
takes currents and voltage along together: each alone would follow where the other has been.
"""

from __future__ import annotations

from chargewright.circuit.compiled import compiled
from chargewright.machine.parameters import Array

UNKNOWNS = 9  # four branch currents charging, four cutting, the internal voltage
VOLTAGE = 8  # its place, in volts times
PER_VOLT_A = 20.0  # assumed: about what an output of 20 A falls by over a volt and more
MOST_WEIGHT = 5.0
MOST_SUM = 0.9  # of the weights given to earlier periods
ALIKE = 1e-4  # two directions count as one where the sine squared between them is below it
NOTHING = 1e-18

# Rows of unknowns in the working space: start and end of this period, of the one before and of
# the one before that; then how many came before.
START, END, OLD_START, OLD_END, OLDER_START, OLDER_END = range(0, 6 * UNKNOWNS, UNKNOWNS)
BEFORE = 6 * UNKNOWNS
MIX = BEFORE + 1


@compiled
def weights(a11: float, a12: float, a22: float, b1: float, b2: float) -> tuple[float, float]:
    """Return the weights of the two earlier periods, of the normal equations a w = b."""
    det = a11 * a22 - a12 * a12
    if det > ALIKE * a11 * a22:
        g1 = (b1 * a22 - b2 * a12) / det
        g2 = (b2 * a11 - b1 * a12) / det
        if abs(g1) <= MOST_WEIGHT and abs(g2) <= MOST_WEIGHT and g1 + g2 <= MOST_SUM:
            return g1, g2
    if a11 > NOTHING:
        return min(max(b1 / a11, -MOST_WEIGHT), MOST_SUM), 0.0
    return 0.0, 0.0


@compiled
def mix(m: Array) -> None:
    """Replace the END row of ``m`` (MIX,) by the next period's start, and move the rows on."""
    a11, a12, a22, b1, b2 = 0.0, 0.0, 0.0, 0.0, 0.0
    for i in range(UNKNOWNS):
        left = m[END + i] - m[START + i]
        if m[BEFORE] > 0.0:
            d1 = left - (m[OLD_END + i] - m[OLD_START + i])
            a11 += d1 * d1
            b1 += d1 * left
            if m[BEFORE] > 1.0:
                d2 = left - (m[OLDER_END + i] - m[OLDER_START + i])
                a12 += d1 * d2
                a22 += d2 * d2
                b2 += d2 * left
    g1, g2 = weights(a11, a12, a22, b1, b2)
    for i in range(UNKNOWNS):
        end = m[END + i]
        m[END + i] = end - g1 * (end - m[OLD_END + i]) - g2 * (end - m[OLDER_END + i])
        m[OLDER_START + i], m[OLDER_END + i] = m[OLD_START + i], m[OLD_END + i]
        m[OLD_START + i], m[OLD_END + i] = m[START + i], end
    m[BEFORE] += 1.0
