"""One energy answer: as a page, as JSON, and on the job card it was asked for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from chargewright.cli.screen import Screen, echo_json
from chargewright.energy.words import plain

if TYPE_CHECKING:
    from chargewright.jobs.card import JobCard

NOT_INPUTS = frozenset({"card", "as_json", "svg"})  # options about the answer, not the question


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyPage:
    """An answer: ``data`` for JSON; for people a headline, pairs, texts, and titled parts."""

    kind: str
    data: Mapping[str, Any]
    head: str = ""
    style: str = "bold"
    pairs: tuple[tuple[str, str], ...] = ()
    texts: tuple[str, ...] = ()
    parts: tuple[tuple[str, tuple[str, ...]], ...] = field(default=())

    def lines(self) -> Iterator[str]:
        """Yield the whole page as plain lines."""
        if self.head:
            yield self.head
        yield from (f"{label}: {text}" for label, text in self.pairs)
        yield from self.texts
        for title, texts in self.parts:
            yield from (f"{title}: {text}" for text in texts)

    def show(self, screen: Screen) -> None:
        """Write the page."""
        if self.head:
            screen.line(self.head, self.style)
        screen.pairs(self.pairs)
        screen.bullets(self.texts)
        for title, texts in self.parts:
            screen.heading(title)
            screen.bullets(texts)


def finish(page: EnergyPage, *, card: JobCard | None, as_json: bool) -> None:
    """Write a page and, where a card was named, keep the answer on it."""
    if as_json:
        echo_json(plain(dict(page.data)))
    else:
        page.show(Screen.here())
    if card is None:
        return
    from chargewright.jobs.card import with_energy
    from chargewright.jobs.files import save_card

    context = click.get_current_context()
    path: Path = context.params["card"]
    inputs = {
        name: value.name if isinstance(value, Path) else value
        for name, value in context.params.items()
        if name not in NOT_INPUTS and value is not False
    }
    kept = with_energy(card, page.kind, inputs=inputs, result=page.data, said=tuple(page.lines()))
    save_card(kept, path)
    if not as_json:
        click.echo(f"Kept on {path}: {kept.energy[-1].id}.")
