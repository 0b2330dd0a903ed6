"""The assessment in a few plain sentences, every one built from its numbers."""

from __future__ import annotations

from chargewright.diagnosis.explain import band_text, shown_text, span_text
from chargewright.diagnosis.findings import Assessment, Decision, NextStep, Unproved


def story(found: Assessment) -> tuple[str, ...]:
    """Return sentences: what leads, what moved it, what to do next and why."""
    lines = _still_wrong(found.unproved, found.remaining) if found.unproved else []
    causes = found.causes
    if causes:
        first = causes[0]
        text = f"Likeliest: {first.title} ({first.share:.0%})"
        if len(causes) > 1:
            text += f", then {causes[1].title} ({causes[1].share:.0%})"
        lines.append(text + ".")
    lines += [one.sentence for one in found.evidence]
    if found.repeat:
        titles = {one.id: one.title for one in found.evidence}
        names = "; ".join(titles[name] for name in found.repeat)
        lines.append(f"Does not fit the other readings, so repeat it first: {names}.")
    lines += _what_now(found)
    return tuple(lines)


def _still_wrong(done: Unproved, remaining: float | None) -> list[str]:
    """Return what the last repair has left, by the readings after it."""
    lines = [
        f"After the repair ({done.title}) it still reads {shown_text(one.answer)}: "
        f"{one.answer.title}. A sound machine reads "
        f"{span_text(one.low, one.high, one.answer.question.function.unit)}."
        for one in done.outside
    ]
    if remaining is not None:
        lines.append(f"Chance that a fault is left after the repair: {remaining:.0%}.")
    return lines


def _what_now(found: Assessment) -> list[str]:
    decision = found.decision
    if decision is Decision.CHECK:
        return _next_check(found.steps[0], found)
    lines = [f"Do now: {found.ending_title}."]
    if decision in (Decision.REPAIR, Decision.CHARGE, Decision.NOTHING):
        lines.append(
            f"Chance that nothing is left wrong after it: {found.cure:.0%}. No further check "
            f"repays its minutes."
        )
    if decision is Decision.UNDECIDED:
        lines.append("No check with this meter repays its minutes, and every part is a gamble.")
        lines += [f"What would decide: {line}." for line in found.would_decide]
    for one in found.proof:
        lines.append(
            f"Proof: {one.check.title}, {one.low:.2f} to {one.high:.2f}; the chance that a "
            f"fault is still there is then {one.remaining:.1%}."
        )
    return lines


def _next_check(step: NextStep, found: Assessment) -> list[str]:
    saves = found.end_min - found.go_on_min
    lines = [
        f"Next: {step.check.title}, {step.minutes:.0f} min. Going on costs about "
        f"{found.go_on_min:.0f} min in all, ending now ({found.ending_title}) about "
        f"{found.end_min:.0f} min: {saves:.0f} min saved."
    ]
    told = [
        f"{band_text(band, step.question.function)} with {band.title}" for band in step.expected
    ]
    if told:
        lines.append(f"It would show {'; '.join(told)}.")
    return lines
