"""What the program says of the sixteen cases told in public: ``python -m benchmarks.real_cases``.

The told cause is printed beside it; nothing is tuned to it, and it is often only a judgement.
"""

from __future__ import annotations

import os
from pathlib import Path

from chargewright import open_job

CASES = Path(__file__).parents[1] / "tests" / "cases"


def main() -> None:
    """Print one block per case."""
    os.environ["CHARGEWRIGHT_CACHE"] = "off"
    for path in sorted(CASES.glob("w-*.json")):
        job = open_job(path)
        found = job.assess()
        told = job.card.confirmed_cause.cause if job.card.confirmed_cause else "not told"
        step = found.steps[0].check.title if found.decision.value == "check" else "none"
        print(f"{path.stem} {job.card.machine.class_id}: told {told}")
        print("  parts  " + ", ".join(f"{c.id} {c.share:.0%}" for c in found.components[:4]))
        print("  causes " + ", ".join(f"{c.id} {c.share:.0%}" for c in found.causes[:4]))
        print(f"  {found.decision.value} {found.ending}, cure {found.cure:.0%}; next: {step}")
        if found.repeat:
            print("  repeat " + ", ".join(found.repeat))


if __name__ == "__main__":
    main()
