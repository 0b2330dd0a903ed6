"""The stable JSON form of an assessment, for other programs. Described in docs/assessment-json.md.

``FORMAT`` rises when a field changes its meaning, is renamed or goes; new fields may appear
without that. Values are in V, ohm or A; shares and chances from 0 to 1.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from chargewright.checks.cautions import MAKER_FIRST
from chargewright.diagnosis.case import Case
from chargewright.diagnosis.expected import Band
from chargewright.diagnosis.explain import Evidence, band_text, shown_text
from chargewright.diagnosis.findings import (
    Assessment,
    CauseFinding,
    Judged,
    NextStep,
    ProofFinding,
    Unproved,
)
from chargewright.diagnosis.glance import Glance
from chargewright.diagnosis.question import Answer, Question
from chargewright.machine.points import Function, Point, State
from chargewright.machine.sources import source_of
from chargewright.version import __version__

FORMAT = 1
Json = dict[str, Any]


def assessment_dict(case: Case, assessment: Assessment) -> Json:
    """Return an assessment of ``case`` as JSON-ready data: no NaN, no infinity."""
    return {
        "format": FORMAT,
        "program": __version__,
        "machine": {"class": case.machine.class_id, "title": case.machine.title},
        "meter": {"id": case.meter.id, "title": case.meter.title},
        "complaint": case.complaint,
        "seed": case.seed,
        "decision": _decision(assessment),
        "components": [
            {"id": one.id, "share": _number(one.share)} for one in assessment.components
        ],
        "causes": [_cause(one) for one in assessment.causes],
        "readings": _readings(case, assessment.evidence, assessment.judged),
        "repeat": list(assessment.repeat),
        "steps": [step_dict(one) for one in assessment.steps],
        "would_decide": list(assessment.would_decide),
        "proof": [_proof(one) for one in assessment.proof],
        "remaining": _number(assessment.remaining),
        "behind": assessment.behind,
        "unproved": _unproved(assessment.unproved),
        "explanation": list(assessment.explanation),
        "caution": case.book.cautions[MAKER_FIRST],
        "machines": _number(assessment.machines),
        "log_evidence": _number(assessment.log_evidence),
    }


def glance_dict(case: Case, found: Glance) -> Json:
    """Return what can be said at once, in the fields of an assessment that it has."""
    return {
        "components": [{"id": one.id, "share": _number(one.share)} for one in found.components],
        "causes": [_cause(one) for one in found.causes],
        "readings": _readings(case, found.evidence, found.judged),
        "repeat": list(found.repeat),
    }


def snapshot_dict(case: Case, assessment: Assessment) -> Json:
    """Return the short form that a card keeps under ``decision``."""
    step = assessment.steps[0] if assessment.decision.value == "check" else None
    return {
        "format": FORMAT,
        **_decision(assessment),
        "causes": [
            {"id": one.id, "title": one.title, "share": round(float(one.share), 4)}
            for one in assessment.causes
        ],
        "readings": [answer.id for answer in (*case.answers, *case.proof)],
        "next_check": None if step is None else step.check.id,
        "remaining": _number(assessment.remaining),
    }


def unit_of(function: Function | None) -> str:
    """Return V, ohm or A; empty for a look or an act."""
    return function.unit if function is not None else ""


def _number(value: float | None) -> float | None:
    """Return a plain float; None for what JSON has no number for."""
    return float(value) if value is not None and math.isfinite(value) else None


def _decision(found: Assessment) -> Json:
    return {
        "kind": found.decision.value,
        "ending": found.ending,
        "title": found.ending_title,
        "cure": _number(found.cure),
        "end_min": _number(found.end_min),
        "go_on_min": _number(found.go_on_min),
    }


def _cause(one: CauseFinding) -> Json:
    severity = None
    if one.severity:
        severity = dict(zip(("low", "middle", "high"), one.severity, strict=True))
    return {
        "id": one.id,
        "title": one.title,
        "component": one.component,
        "share": _number(one.share),
        "severity": severity,
        "repair": {"id": one.repair, "title": one.repair_title},
    }


def _readings(case: Case, evidence: Sequence[Evidence], judged: Sequence[Judged]) -> list[Json]:
    said = {one.id: one for one in evidence}
    stages = [("fault", answer) for answer in case.answers]
    stages += [("after_repair", answer) for answer in case.proof]
    return [
        {
            "id": answer.id,
            "title": answer.title,
            "stage": stage,
            **_question(answer.question),
            "meter": answer.meter.id,
            "leads_nulled": answer.nulled,
            "shown": _shown(answer),
            "seen": answer.seen,
            "text": shown_text(answer),
            "verdicts": [_verdict(one) for one in judged if one.answer == answer],
            "evidence": _evidence(said.get(answer.id), answer.question.function),
        }
        for stage, answer in stages
    ]


def _question(question: Question) -> Json:
    return {
        "function": question.function.value,
        "plus": _point(question.plus),
        "minus": _point(question.minus),
        "unit": unit_of(question.function) or None,
        "state": _state(question.state),
    }


def _point(point: Point | None) -> str | None:
    return None if point is None else point.word


def _state(state: State) -> Json:
    return {
        "engine": state.engine.value,
        "rpm": _number(state.rpm),
        "rpm_max": _number(state.rpm_max),
        "rpm_rel_u": _number(state.rpm_rel_u),
        "key_on": state.key_on,
        "lights_on": state.lights_on,
        "plug_in": state.plug_in,
        "battery_in": state.battery_in,
        "warmth": state.warmth.value,
        "load": state.load.value,
        "battery_charged": state.battery_charged,
        "rest_h": _number(state.rest_h),
        "full_field": state.full_field,
    }


def _shown(answer: Answer) -> Json | None:
    shown = answer.shown
    if shown is None:
        return None
    has_value = shown.has_value
    return {
        "kind": shown.kind,
        "value": _number(shown.value) if has_value else None,
        "value_max": _number(shown.value_max),
        "lsd": _number(shown.lsd) if has_value else None,
    }


def _verdict(one: Judged) -> Json:
    limit, verdict = one.limit, one.verdict
    source = source_of(limit.source, f"limit {limit.id!r}")
    return {
        "limit": {
            "id": limit.id,
            "title": limit.title,
            "low": _number(limit.low),
            "high": _number(limit.high),
            "unit": limit.unit,
            "source": {"key": source.key, "kind": source.kind.value, "text": source.text},
        },
        "outcome": verdict.outcome.value,
        "p_inside": _number(verdict.p_conform),
        "value": _number(verdict.value),
        "u": _number(verdict.u),
        "half_width_95": _number(verdict.half_width),
        "needed_u": _number(verdict.needed_u),
        "rule": verdict.rule,
        "would_decide": list(verdict.advice),
    }


def _evidence(one: Evidence | None, function: Function) -> Json | None:
    if one is None:
        return None
    return {
        "says": [
            {"cause": say.cause, "title": say.title, "odds_factor": _number(say.factor)}
            for say in one.says
        ],
        "expected": [_band(band, function) for band in one.expected],
        "doubt": _number(one.doubt),
        "sentence": one.sentence,
    }


def _band(band: Band, function: Function) -> Json:
    look = function is Function.LOOK
    return {
        "cause": band.cause,
        "title": band.title,
        "low": _number(band.low),
        "middle": _number(band.middle),
        "high": _number(band.high),
        "overload": None if look else _number(band.overload),
        "sign": _number(band.overload) if look else None,
        "text": band_text(band, function),
    }


def step_dict(step: NextStep) -> Json:
    """Return a step as JSON-ready data."""
    return {
        "check": step.check.id,
        "title": step.check.title,
        **_question(step.question),
        "minutes": _number(step.minutes),
        "wait_h": _number(step.wait_h),
        "parts": [{"what": what, "minutes": _number(cost)} for what, cost in step.parts],
        "how": step.check.how,
        "cautions": list(step.cautions),
        "expected": [_band(band, step.question.function) for band in step.expected],
        "total_min": _number(step.total_min),
        "act_now_min": _number(step.act_now_min),
    }


def _unproved(one: Unproved | None) -> Json | None:
    if one is None:
        return None
    return {
        "repairs": list(one.repairs),
        "title": one.title,
        "cure": _number(one.cure),
        "outside": [
            {
                "reading": out.answer.id,
                "title": out.answer.title,
                "text": shown_text(out.answer),
                "unit": unit_of(out.answer.question.function),
                "low": _number(out.low),
                "high": _number(out.high),
            }
            for out in one.outside
        ],
    }


def _proof(one: ProofFinding) -> Json:
    return {
        "check": one.check.id,
        "title": one.check.title,
        **_question(one.question),
        "low": _number(one.low),
        "high": _number(one.high),
        "remaining": _number(one.remaining),
    }
