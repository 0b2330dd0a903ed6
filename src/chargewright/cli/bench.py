"""The dialogue of ``guide``: shows a check, takes what is typed, saves, goes on.

What a typed line means is told by ``typed.py``; nothing is computed here.
"""

from __future__ import annotations

import contextlib
import math
import sys

import click

from chargewright.checks.cautions import MAKER_FIRST
from chargewright.cli.assess_page import (
    answer_line,
    reasons,
    show_causes,
    show_decision,
    show_head,
    show_readings,
    show_unproved,
)
from chargewright.cli.choose import choose_check, show_options
from chargewright.cli.own_reading import ask_own_reading
from chargewright.cli.program import checked_fields, told
from chargewright.cli.screen import Screen, working
from chargewright.cli.slip import what_was_meant
from chargewright.cli.state_words import split_state
from chargewright.cli.step_page import show_step
from chargewright.cli.typed import Act, understand
from chargewright.cli.words import minutes_text, percent
from chargewright.diagnosis.findings import Assessment, Decision, NextStep
from chargewright.errors import ChargewrightError
from chargewright.jobs.card import JobCard
from chargewright.jobs.keeping import with_assessment
from chargewright.jobs.proving import next_proof, proof_step, read_since, under_way, with_repairs
from chargewright.jobs.reading import Reading, Stage
from chargewright.machine.points import Function
from chargewright.workbench import Job

WHILE_WORKING = "Working it out, up to a minute the first time"
LEADING = 3
KEYS = "? more | s other check | o own reading | c battery charged | u undo | q stop"


class Bench:
    """One session of the guide with one card."""

    def __init__(self, job: Job, screen: Screen) -> None:
        self.job = job
        self.screen = screen
        self.cards: list[JobCard] = []  # as they were before each change, for undo
        self.chosen: NextStep | None = None
        self.skipped: set[str] = set()
        self.read_out: set[str] = set()  # cautions already on the screen in this session

    def run(self) -> None:
        """Lead until the technician stops; the card is saved after every reading."""
        with contextlib.suppress(ImportError):
            import readline  # noqa: F401 - gives the prompt its arrow keys

        try:
            self._begin()
            while self._once():
                pass
        except (EOFError, KeyboardInterrupt):
            click.echo()
        path = self.job.save()
        self.screen.line(f"Saved in {path}. The same command goes on from here.")

    def _begin(self) -> None:
        show_head(self.screen, self.job)
        if self.job.card.complaint.text:
            self.screen.line(f"“{self.job.card.complaint.text}”")
        maker_first = self.job.case.book.cautions[MAKER_FIRST]
        self.screen.line(maker_first, "yellow")
        self.read_out.add(maker_first)
        answers = (*self.job.case.answers, *self.job.case.proof)
        if answers:
            self.screen.line(f"Readings so far: {len(answers)}.")
            self.screen.bullets([answer_line(answer) for answer in answers])

    def _once(self) -> bool:
        """Assess, show what to do, and act on what is typed until something has changed."""
        try:
            with working(WHILE_WORKING):
                found = self.job.assess()
        except ChargewrightError as error:
            return self._stuck(error)
        step = self._step(found)
        self._show(found, step)
        self._keep(found)
        before = self._standing()
        while before == self._standing():
            if not self._take(found, step):
                return False
        return True

    def _standing(self) -> tuple[object, ...]:
        return self.job.card, self.chosen, frozenset(self.skipped)

    def _stuck(self, error: ChargewrightError) -> bool:
        """Say why the readings cannot be reckoned with; only taking one back helps."""
        self._refuse(error)
        while True:
            act = understand(self._ask("u take the last reading back | q stop > ")).act
            if act is Act.STOP:
                return False
            if act is Act.UNDO and self._undo():
                return True

    def _step(self, found: Assessment) -> NextStep | None:
        """Return what is on the bench: the chosen check, a proof, else the best not skipped."""
        if self.chosen is not None:
            return self.chosen
        if under_way(self.job.case, found):
            proof = next_proof(self.job.case, found)
            return None if proof is None else proof_step(self.job.case, proof)
        if found.decision is not Decision.CHECK:
            return None
        return next((s for s in found.steps if s.check.id not in self.skipped), found.steps[0])

    def _show(self, found: Assessment, step: NextStep | None) -> None:
        screen = self.screen
        if step is None and under_way(self.job.case, found):
            self._show_repaired(found)
            return
        if step is None:
            show_decision(screen, found)
            show_causes(screen, found, most=LEADING)
            click.echo()
            repaired = "" if found.decision is not Decision.REPAIR else "r repair done | "
            screen.line(f"Enter done | {repaired}{KEYS}", "dim")
            return
        if self._proving(found):
            screen.heading("Prove the repair")
        else:
            show_unproved(screen, found)
            read = len(self.job.case.answers) + len(self.job.case.proof)
            screen.heading(f"Check {read + 1}")
            leading = [f"{c.title} {percent(c.share)}" for c in found.causes[:LEADING]]
            screen.line("Likeliest: " + ", ".join(leading) + ".")
        if found.repeat:
            screen.line(f"Does not fit the rest, take it again: {', '.join(found.repeat)}.", "red")
        show_step(screen, step, self.job.case.meter, cautions=self._cautions(step))
        click.echo()
        screen.line(KEYS, "dim")

    def _show_repaired(self, found: Assessment) -> None:
        """Say how far the repair is proved by what was read after it."""
        screen, read = self.screen, len(read_since(self.job.case, found))
        screen.heading("Repair done")
        screen.line(under_way(self.job.case, found)[-1].title, "bold")
        if found.remaining is not None:
            left = f"{percent(found.remaining)} that a fault is still there"
            screen.line(f"Readings after it: {read}; {left}.", "bold")
        elif not read:
            screen.line("No check here proves it by itself: ride it, and measure again.")
        click.echo()
        screen.line(f"Enter done | {KEYS}", "dim")

    def _proving(self, found: Assessment) -> bool:
        return self.chosen is None and bool(under_way(self.job.case, found))

    def _cautions(self, step: NextStep) -> list[str]:
        """Return the cautions that were not read out in this session, and say so of the others."""
        maker_first = self.job.case.book.cautions[MAKER_FIRST]
        told = [text for text in step.cautions if text != maker_first]
        fresh = [text for text in told if text not in self.read_out]
        old = len(told) - len(fresh)
        self.read_out |= set(fresh)
        return [*fresh, f"{old} as before, ? shows them"] if old else fresh

    def _keep(self, found: Assessment) -> None:
        """Keep the decision on the card, so that whoever opens it sees what was advised."""
        kept = with_assessment(self.job.card, self.job.case, found)
        if kept is not self.job.card:
            self.job.card = kept
            self.job.save()

    def _take(self, found: Assessment, step: NextStep | None) -> bool:
        """Act on one typed line; False ends the session."""
        look = step is not None and step.question.function is Function.LOOK
        prompt = "> " if step is None else "Yes or no > " if look else "Reads > "
        typed = understand(self._ask(prompt), look=look)
        if typed.act is Act.STOP or (typed.act is Act.NOTHING and step is None):
            return False
        try:
            with checked_fields("reading"):
                self._do(typed.act, typed.rest, found, step)
        except ChargewrightError as error:
            self._refuse(error)
        return True

    def _refuse(self, error: ChargewrightError) -> None:
        self.screen.line(told(error)[0].removeprefix("chargewright: "), "bold red")

    def _do(self, act: Act, rest: str, found: Assessment, step: NextStep | None) -> None:
        if act is Act.EXPLAIN:
            self._explain(found, step)
        elif act is Act.OTHER:
            self._other(found, step, rest)
        elif act is Act.UNDO:
            self._undo()
        elif act is Act.OWN:
            reading = ask_own_reading(self.job, self.screen, self._ask)
            if reading is not None:
                self._add(reading)
        elif act is Act.CHARGED:
            self._charged()
        elif act is Act.REPAIRED:
            self._repaired(found)
        elif act is Act.READING and step is not None:
            text, state = split_state(rest)
            reading = self.job.reading_for(step, text, state=state)
            self._add(reading, opened=tuple(step.check.needs))
        elif step is None:
            self.screen.line("No check is open: s chooses one, o takes a reading of your own.")
        else:
            self.screen.line("Type what the meter shows, as 13.1 or OL; s for another check.")

    def _ask(self, prompt: str) -> str:
        line = input(prompt)
        if not sys.stdin.isatty():
            click.echo(line)  # a piped session shows what was typed, too
        return line.strip()

    def _add(self, reading: Reading, opened: tuple[str, ...] = ()) -> None:
        meant = reading
        if reading.stage is Stage.FAULT:
            asked = what_was_meant(self.job, reading, self.screen, self._ask)
            if asked is None:
                self.screen.line("Not taken.")
                return
            meant = asked
        before = self.job.card
        with working(WHILE_WORKING):
            self.job.add(meant)
            self.job.opened(*opened)
        self._changed(before)

    def _changed(self, before: JobCard) -> None:
        """Remember the card as it was, and save."""
        self.cards.append(before)
        self.chosen = None
        self.skipped.clear()
        self.job.save()

    def _charged(self) -> None:
        if self.job.case.situation.mode.charged:
            self.screen.line("The battery is noted as charged already.")
            return
        before = self.job.card
        self.job.done()
        self._changed(before)
        self.screen.line("Noted: battery charged. Let it rest for an hour before rest volts.")

    def _repaired(self, found: Assessment) -> None:
        if found.decision is not Decision.REPAIR:
            self.screen.line("No repair is advised yet.")
            return
        before = self.job.card
        self._put(with_repairs(before, found))
        self._changed(before)
        self.screen.line(f"Noted as done: {found.ending_title}.")

    def _put(self, card: JobCard) -> None:
        """Go on with another state of the card."""
        self.job = Job(card, self.job.path, workshop=self.job.workshop)

    def _undo(self) -> bool:
        """Take back the last change of this session, or the last reading of an earlier one."""
        if self.cards:
            self._put(self.cards.pop())
            self.screen.line("Taken back.")
        elif (reading := self.job.undo()) is not None:
            text = reading.shown.text if reading.shown is not None else ""
            self.screen.line(f"Taken back: {reading.id} {text}".rstrip() + ".")
        else:
            self.screen.line("There is nothing to take back.")
            return False
        self.chosen = None
        self.job.save()
        return True

    def _other(self, found: Assessment, step: NextStep | None, rest: str) -> None:
        """Choose another check; with nothing typed the next best one."""
        chosen = choose_check(self.job, found, self.screen, self._ask, rest)
        if chosen is not None:
            self.chosen = chosen
        elif step is not None and not rest:
            self.chosen = None
            self.skipped.add(step.check.id)
            if self.skipped >= {s.check.id for s in found.steps}:
                self.skipped = {step.check.id}

    def _explain(self, found: Assessment, step: NextStep | None) -> None:
        screen = self.screen
        if step is not None:
            screen.line(f"Why {step.check.title}", "bold")
            if math.isfinite(step.total_min):
                screen.line(
                    f"Going on with it costs about {minutes_text(step.total_min)} on average, "
                    "comebacks and wrong parts counted; deciding now about "
                    f"{minutes_text(step.act_now_min)}."
                )
            screen.line("Care", "bold")
            screen.bullets(step.cautions, "yellow")
        screen.line("Other checks (s chooses)", "bold")
        show_options(screen, found)
        screen.line("What the readings say", "bold")
        screen.bullets(reasons(found))
        show_readings(screen, self.job, found, verbose=False)
