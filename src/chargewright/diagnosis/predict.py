"""What each virtual machine would show: the circuit asked once per state, kept for later.

One ``Predictions`` belongs to one batch of machines. Questions are gathered by state, so that
a running state is solved once for all its probes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, MutableMapping

import numpy as np

from chargewright.checks.looks import sign_probability
from chargewright.circuit.signals import Probe, TestSource
from chargewright.diagnosis.question import Question
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
Key = tuple[str, State, TestSource | None, Point, Point]


class Predictions:
    """True signals of n machines at every question asked so far.

    ``kept`` maps a key to an array (rows, n): four rows (mean, true rms, average, hertz) for
    volts and amperes, two (volts, amperes) under a test source.
    """

    def __init__(
        self, layout: Layout, params: Array, kept: MutableMapping[Key, Array] | None = None
    ) -> None:
        self.layout = layout
        self.params = params
        self.kept: MutableMapping[Key, Array] = {} if kept is None else kept
        self.stored: Mapping[str, Array] = {}  # by ``key_text``, from an earlier run

    def texts(self) -> dict[str, Array]:
        """Return all that is known by ``key_text``, in single precision."""
        texts: dict[str, Array] = dict(self.stored)
        for key, rows in self.kept.items():
            texts[key_text(key)] = np.asarray(rows, dtype=np.float32)
        return texts

    def prepare(self, questions: Iterable[Question], meter: MeterCard) -> None:
        """Solve what ``questions`` need and is not known yet."""
        self.solve_keys(
            _key(question, meter)
            for question in questions
            if question.function is not Function.LOOK and not question.same_point
        )

    def solve_keys(self, keys: Iterable[Key]) -> None:
        """Solve what ``keys`` name and is not known yet, each state once."""
        states: dict[tuple[State, TestSource | None], dict[Key, None]] = {}
        for key in keys:
            if key in self.kept:
                continue
            stored = self.stored.get(key_text(key)) if self.stored else None
            if stored is not None:
                self.kept[key] = stored.astype(np.float64)
            else:
                states.setdefault((key[1], key[2]), {})[key] = None
        for (state, source), wanted in states.items():
            if source is not None:
                self._test(state, source, list(wanted))
            else:
                self._measure(state, list(wanted))

    def _test(self, state: State, source: TestSource, keys: list[Key]) -> None:
        from chargewright.circuit import observe  # compiled: loading it takes most of a second

        probes = [Probe(*key[3:]) for key in keys]
        answer = observe.under_test(self.layout, self.params, state, probes, source)
        for column, key in enumerate(keys):
            self.kept[key] = np.stack([answer.volts[:, column], answer.amps[:, column]])

    def _measure(self, state: State, keys: list[Key]) -> None:
        from chargewright.circuit import observe
        from chargewright.circuit.running import ROUGH_STEPS

        by_kind = {kind: [key for key in keys if key[0] == kind] for kind in ("volts", "amps")}
        answers = observe.signals(
            self.layout,
            self.params,
            state,
            volts=[Probe(*key[3:]) for key in by_kind["volts"]],
            amps=[Probe(*key[3:]) for key in by_kind["amps"]],
            steps=ROUGH_STEPS,
        )
        for kind, signals in zip(("volts", "amps"), answers, strict=True):
            for column, key in enumerate(by_kind[kind]):
                self.kept[key] = np.stack(
                    [
                        signals.dc[:, column],
                        signals.ac_true_rms[:, column],
                        signals.ac_average[:, column],
                        signals.frequency_hz[:, column],
                    ]
                )

    def indication(
        self,
        question: Question,
        meter: MeterCard,
        *,
        nulled: bool = False,
        lsd: float | None = None,
    ) -> Indication:
        """Return what ``meter`` would show on each machine, arrays (n,)."""
        function = question.function
        if question.same_point:
            n = self.params.shape[0]
            return indicate_ohms(meter, np.zeros(n), np.ones(n), nulled=nulled, lsd=lsd)
        self.prepare([question], meter)
        rows = self.kept[_key(question, meter)]
        if function in VOLTS:
            return indicate_volts(
                meter,
                function,
                dc=rows[0],
                ac_true_rms=rows[1],
                ac_average=rows[2],
                frequency_hz=rows[3],
                lsd=lsd,
            )
        if function is Function.OHM:
            return indicate_ohms(meter, rows[0], rows[1], nulled=nulled, lsd=lsd)
        if function is Function.DIODE:
            return indicate_diode(meter, rows[0], rows[1])
        return indicate_amps(meter, function, rows[0], lsd=lsd)

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
