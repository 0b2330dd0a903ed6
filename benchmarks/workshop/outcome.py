"""How one job went under one policy: one line of a JSON-lines file."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path

from benchmarks.workshop.bench import CHARGE, Bench
from benchmarks.workshop.families import Job
from chargewright.jobs.shelf import model_fingerprint
from chargewright.machine.cause_file import catalogue


@dataclass(slots=True, kw_only=True)
class Verdict:
    """What a policy says when it ends looking: first time, and at last.

    ``repairs`` are to be done (empty: nothing wrong). Policies that state probabilities fill
    the rest: leading component and its probability, probability of the true components,
    shares of the true causes, leading causes.
    """

    repairs: tuple[str, ...]
    undecided: bool = False
    top: str = ""
    top_share: float = float("nan")
    truth_share: float = float("nan")
    causes: list[tuple[str, float]] = field(default_factory=list)
    note: str = ""


@dataclass(slots=True, kw_only=True)
class Outcome:
    """One job under one policy, in plain types."""

    world: str
    seed: int
    number: int
    policy: str
    family: str
    class_id: str
    complaint: str
    misled: bool
    meter: str
    causes: list[str]
    components: list[str]
    repairs: list[str]
    first: list[str]
    undecided: bool
    right_component: bool
    right_repair: bool
    mended: bool
    healthy_parts: int
    looks: int
    spent: dict[str, float]
    top: str
    top_share: float
    truth_share: float
    stated: list[tuple[str, float]]
    note: str
    steps: list[str]
    seconds: float
    code: str

    @property
    def key(self) -> tuple[str, int, int, str, str]:
        """What makes an outcome one of its kind: job, policy, and the code that worked it."""
        return self.world, self.seed, self.number, self.policy, self.code

    @property
    def minutes(self) -> float:
        """Minutes of the whole job, needed repairs included."""
        return sum(self.spent.values())

    @property
    def finding_min(self) -> float:
        """Minutes beyond the repairs that the machine needed anyway."""
        return self.minutes - self.spent.get("needed", 0.0)


def needs_of(job: Job) -> tuple[list[str], list[str], list[str]]:
    """Return (causes, components, repairs) of a job before anything is mended."""
    hidden = job.hidden
    causes = [cause.id for cause in hidden.causes] or ["no_fault"]
    return causes, sorted(hidden.components), sorted(hidden.repairs)


def components_of(repair_ids: set[str]) -> set[str]:
    """Return the components that some cause mended by these repairs belongs to."""
    return {c.component.value for c in catalogue().causes if c.repair.id in repair_ids}


def outcome(
    bench: Bench,
    policy: str,
    first: Verdict,
    truth: tuple[list[str], list[str], list[str]],
    *,
    undecided: bool,
    seconds: float,
) -> Outcome:
    """Return the outcome of a job that is over; charges what follows from it."""
    bench.close(undecided=undecided)
    causes, components, needed = truth
    job = bench.job
    told = set(first.repairs)
    told_parts = told - {CHARGE} if set(needed) != {CHARGE} else told
    sound = components == ["none"]
    hit = bool(told & set(needed)) or bool(components_of(told_parts) & set(components))
    right = not told_parts if sound else hit
    left = job.hidden.repairs - ({CHARGE} if bench.charged else set())
    return Outcome(
        world=job.world,
        seed=job.seed,
        number=job.number,
        policy=policy,
        family=job.family,
        class_id=job.class_id,
        complaint=job.complaint,
        misled=job.misled,
        meter=job.meter_id,
        causes=causes,
        components=components,
        repairs=needed,
        first=sorted(told),
        undecided=undecided,
        right_component=right and not first.undecided,
        right_repair=not first.undecided and told - {CHARGE} == set(needed) - {CHARGE},
        mended=not left and not undecided,
        healthy_parts=bench.healthy_parts,
        looks=len(bench.steps),
        spent={name: round(value, 2) for name, value in bench.spent.items()},
        top=first.top,
        top_share=first.top_share,
        truth_share=first.truth_share,
        stated=first.causes,
        note=first.note,
        steps=bench.steps,
        seconds=round(seconds, 2),
        code=code(),
    )


def code() -> str:
    """Return a short name of the model's code: outcomes of other code are not mixed in."""
    return model_fingerprint()[:8]


def append(path: Path, one: Outcome) -> None:
    """Write an outcome at the end of a file."""
    with path.open("a", encoding="utf-8") as file:
        file.write(json.dumps(asdict(one)) + "\n")


def load(path: Path) -> Iterator[Outcome]:
    """Yield the outcomes of a file; none when there is no file. A torn last line is left out."""
    if not path.exists():
        return
    for line in path.read_text(encoding="utf-8").splitlines():
        try:
            yield Outcome(**json.loads(line))
        except (json.JSONDecodeError, TypeError):
            continue
