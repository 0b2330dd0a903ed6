"""What each virtual machine would show: the circuit asked once per state, kept for later.

One ``Predictions`` belongs to one batch of machines. Questions are gathered by state, so that
a running state is solved once for all its probes.
"""

from __future__ import annotations

from collections.abc import Iterable, MutableMapping

import numpy as np
from numpy.typing import NDArray

from chargewright.checks.looks import sign_probability
from chargewright.circuit.signals import Probe, TestSource
from chargewright.diagnosis.question import Answer, Question
from chargewright.machine.layout import Layout
from chargewright.machine.parameters import Array
from chargewright.machine.points import Function, Point, State
from chargewright.meters.card import MeterCard
from chargewright.meters.indicate import (
    Indication,
    indicate_amps,
    indicate_diode,
    indicate_ohms,
    indicate_volts,
)

VOLTS = frozenset({Function.DC_V, Function.AC_V})
TESTS = frozenset({Function.OHM, Function.DIODE})
Ints = NDArray[np.intp]
Key = tuple[str, State, TestSource | None, Point, Point]


class Predictions:
    """True signals of n machines at every question asked so far.

    ``kept`` maps a key to an array (rows, n): four rows (mean, true rms, average, hertz) for
    volts and amperes, two (volts, amperes) under a test source. Machines nobody has asked for
    yet are NaN: a planner looks at a few hundred machines, a reading at all of them. ``before``
    are the same machines before the repair that they have behind them, if any.
    """

    def __init__(
        self, layout: Layout, params: Array, kept: MutableMapping[Key, Array] | None = None
    ) -> None:
        self.layout = layout
        self.params = params
        self.kept: MutableMapping[Key, Array] = {} if kept is None else kept
        self.stored: dict[str, Array] = {}  # by ``key_text``, from an earlier run
        self.before: Predictions | None = None

    def at(self, answer: Answer) -> Predictions:
        """Return the predictions that an answer speaks about."""
        return self.before if answer.before and self.before is not None else self

    def texts(self) -> dict[str, Array]:
        """Return all that is known by ``key_text``, in single precision."""
        texts: dict[str, Array] = dict(self.stored)
        for key, rows in self.kept.items():
            texts[key_text(key)] = np.asarray(rows, dtype=np.float32)
        return texts

    def prepare(
        self, questions: Iterable[Question], meter: MeterCard, rows: Ints | None = None
    ) -> None:
        """Solve what ``questions`` need on machines ``rows`` (all when None) and is not known."""
        keys = dict.fromkeys(
            _key(question, meter)
            for question in questions
            if question.function is not Function.LOOK and not question.same_point
        )
        wanted = np.arange(self.params.shape[0]) if rows is None else rows
        states: dict[tuple[State, TestSource | None], list[Key]] = {}
        for key in keys:
            if np.isnan(self._known(key)[0, wanted]).any():
                states.setdefault((key[1], key[2]), []).append(key)
        for (state, source), group in states.items():
            missing = np.any([np.isnan(self.kept[key][0, wanted]) for key in group], axis=0)
            self._solve(state, source, group, wanted[missing])

    def _known(self, key: Key) -> Array:
        """Return what is known of a key, NaN where nothing is."""
        if key not in self.kept:
            stored = self.stored.get(key_text(key)) if self.stored else None
            n = self.params.shape[0]
            width = 4 if key[2] is None else 2
            self.kept[key] = (
                np.full((width, n), np.nan) if stored is None else stored.astype(np.float64)
            )
        return self.kept[key]

    def _solve(self, state: State, source: TestSource | None, keys: list[Key], rows: Ints) -> None:
        """Ask the circuit once for all ``keys``, which share a state, on machines ``rows``."""
        from chargewright.circuit import observe  # compiled: loading it takes most of a second
        from chargewright.circuit.running import ROUGH_STEPS

        params = self.params[rows]
        if source is not None:
            probes = [Probe(*key[3:]) for key in keys]
            tested = observe.under_test(self.layout, params, state, probes, source)
            for column, key in enumerate(keys):
                self.kept[key][:, rows] = [tested.volts[:, column], tested.amps[:, column]]
            return
        by_kind = {kind: [key for key in keys if key[0] == kind] for kind in ("volts", "amps")}
        answers = observe.signals(
            self.layout,
            params,
            state,
            volts=[Probe(*key[3:]) for key in by_kind["volts"]],
            amps=[Probe(*key[3:]) for key in by_kind["amps"]],
            steps=ROUGH_STEPS,
        )
        for kind, signals in zip(("volts", "amps"), answers, strict=True):
            for column, key in enumerate(by_kind[kind]):
                self.kept[key][:, rows] = [
                    signals.dc[:, column],
                    signals.ac_true_rms[:, column],
                    signals.ac_average[:, column],
                    signals.frequency_hz[:, column],
                ]

    def missing(self, question: Question, meter: MeterCard, rows: Ints) -> int:
        """Return on how many machines ``rows`` a question would have to be solved."""
        if question.function is Function.LOOK or question.same_point:
            return 0
        return int(np.isnan(self._known(_key(question, meter))[0, rows]).sum())

    def of(self, rows: Ints, asked: Iterable[tuple[Question, MeterCard]]) -> Predictions:
        """Return machines ``rows`` alone, with what is known of the questions asked."""
        asked = tuple(asked)
        result = Predictions(self.layout, self.params[rows])
        if self.before is not None:
            result.before = self.before.of(rows, asked)
        for question, meter in asked:
            if question.function is not Function.LOOK and not question.same_point:
                key = _key(question, meter)
                result.kept[key] = self._known(key)[:, rows]
        return result

    def moved(self, fresh: Predictions, sources: Ints) -> Predictions:
        """Return these predictions and fresh ones: row i is machine ``sources[i]`` here.

        -1 stands for the fresh ones, in their order; what they would read is not known yet.
        """
        params = np.empty((len(sources), self.params.shape[1]))
        params[sources >= 0] = self.params[sources[sources >= 0]]
        params[sources < 0] = fresh.params
        result = Predictions(self.layout, params)
        if self.before is not None and fresh.before is not None:
            result.before = self.before.moved(fresh.before, sources)
        old = sources >= 0
        for key in self.kept:
            rows = np.full((self.kept[key].shape[0], len(sources)), np.nan)
            rows[:, old] = self.kept[key][:, sources[old]]
            result.kept[key] = rows
        for text, known in self.stored.items():
            rows = np.full((known.shape[0], len(sources)), np.nan, dtype=np.float32)
            rows[:, old] = known[:, sources[old]]
            result.stored[text] = rows
        return result

    def put(self, rows: Ints, other: Predictions, sources: Ints) -> None:
        """Put machines ``sources`` of ``other``, with all known of them, in place of ``rows``."""
        self.params[rows] = other.params[sources]
        if self.before is not None and other.before is not None:
            self.before.put(rows, other.before, sources)
        for key, known in other.kept.items():
            self._known(key)[:, rows] = known[:, sources]

    def indication(
        self,
        question: Question,
        meter: MeterCard,
        *,
        nulled: bool = False,
        lsd: float | None = None,
        rows: Ints | None = None,
    ) -> Indication:
        """Return what ``meter`` would show on machines ``rows`` (all when None), arrays (r,)."""
        function = question.function
        if question.same_point:
            n = self.params.shape[0] if rows is None else len(rows)
            return indicate_ohms(meter, np.zeros(n), np.ones(n), nulled=nulled, lsd=lsd)
        self.prepare([question], meter, rows)
        found = self.kept[_key(question, meter)]
        found = found if rows is None else found[:, rows]
        if function in VOLTS:
            return indicate_volts(
                meter,
                function,
                dc=found[0],
                ac_true_rms=found[1],
                ac_average=found[2],
                frequency_hz=found[3],
                lsd=lsd,
            )
        if function is Function.OHM:
            return indicate_ohms(meter, found[0], found[1], nulled=nulled, lsd=lsd)
        if function is Function.DIODE:
            return indicate_diode(meter, found[0], found[1])
        return indicate_amps(meter, function, found[0], lsd=lsd)

    def sign(self, question: Question) -> Array:
        """Return the chance (n,) that a look shows its sign on each machine."""
        assert question.sign is not None
        return sign_probability(question.sign, self.params)


def key_text(key: Key) -> str:
    """Return a key as a text that is the same in every run."""
    kind, state, source, plus, minus = key
    return f"{kind}|{state!r}|{source!r}|{plus.word}|{minus.word}"


def _key(question: Question, meter: MeterCard) -> Key:
    plus, minus = question.probe
    if question.function in TESTS:
        source = meter.function(question.function).test_source
        return ("test", question.state, source, plus, minus)
    kind = "volts" if question.function in VOLTS else "amps"
    return (kind, question.state, None, plus, minus)
