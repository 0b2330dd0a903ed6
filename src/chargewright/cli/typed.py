"""What a line typed at the bench means: a command in one letter or word, or a reading."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto


class Act(Enum):
    """What to do with a line."""

    NOTHING = auto()
    READING = auto()
    EXPLAIN = auto()
    OTHER = auto()
    UNDO = auto()
    OWN = auto()
    CHARGED = auto()
    REPAIRED = auto()
    STOP = auto()


WORDS: dict[str, Act] = {
    "?": Act.EXPLAIN,
    "h": Act.EXPLAIN,
    "help": Act.EXPLAIN,
    "why": Act.EXPLAIN,
    "s": Act.OTHER,
    "skip": Act.OTHER,
    "u": Act.UNDO,
    "undo": Act.UNDO,
    "o": Act.OWN,
    "own": Act.OWN,
    "c": Act.CHARGED,
    "charged": Act.CHARGED,
    "r": Act.REPAIRED,
    "repaired": Act.REPAIRED,
    "q": Act.STOP,
    "quit": Act.STOP,
    "stop": Act.STOP,
}


@dataclass(frozen=True, slots=True)
class Typed:
    """The act, and what follows its word (for a reading the whole line)."""

    act: Act
    rest: str = ""


def understand(line: str, *, look: bool = False) -> Typed:
    """Return what a line means. At a look ``n`` answers no; else it begins an own reading.

    >>> understand("s 3"), understand("13,1")
    (Typed(act=<Act.OTHER: 4>, rest='3'), Typed(act=<Act.READING: 2>, rest='13,1'))
    """
    line = line.strip()
    if not line:
        return Typed(Act.NOTHING)
    word, _, rest = line.lower().partition(" ")
    if word == "n" and not look:
        word = "o"
    act = WORDS.get(word)
    if act is Act.OTHER:
        return Typed(act, rest.strip())
    if act is not None and not rest:
        return Typed(act)
    return Typed(Act.READING, line)
