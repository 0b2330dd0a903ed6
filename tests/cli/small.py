"""A diagnosis small enough for many runs: few machines, no refinement, a short look ahead.

What it says is rough; these tests are about what is done with it. Also runs the command line of
a process of its own: ``python small.py assess card.json``.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from chargewright.diagnosis import advise, population, prove, refine, rollout

SMALL: tuple[tuple[Any, str, Any], ...] = (
    (population, "SINGLE_COUNT", 8),
    (population, "SOUND_COUNT", 16),
    (population, "PAIR_COUNT", 2),
    (refine, "thin", lambda belief, least=0.0: np.empty(0, dtype=np.intp)),
    (rollout, "PLAYS", 2),
    (advise, "WORLDS", 60),
    (prove, "EACH", 20),
)

if __name__ == "__main__":
    from chargewright.cli.main import main

    for module, name, value in SMALL:
        setattr(module, name, value)
    main(prog_name="chargewright")
