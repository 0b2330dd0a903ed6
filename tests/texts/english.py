"""Tells whether a text that should be in another language still speaks English."""

from __future__ import annotations

import re

# Frequent words of English that are no words of German; what is quoted was typed or names a field.
ENGLISH = re.compile(
    r"\b(the|and|with|of|is|are|not|from|this|that|it|its|be|to|by|than|or|for|given|expected|"
    r"unknown|known|readings?|engine|battery|charged?|leads?|key|needs?|has|does|measured?|below|"
    r"above|between|one|check|meter|repair|found|after|before|likely|instead|if)\b"
)
QUOTED = re.compile(r"'[^']*'|\"[^\"]*\"|“[^”]*”|„[^“]*“")
FIELD = re.compile(r"\b\w+(?:_\w+)+\b|\b\w+(?:\.\w+)+\b|\[\w+\]")


def english_in(text: str) -> list[str]:
    """Return the English words of a text, ``[]`` where it has none.

    >>> english_in("erwartet 'battery_pos' oder rpm_max"), english_in("Motor off and cold")
    ([], ['and'])
    """
    return ENGLISH.findall(FIELD.sub(" ", QUOTED.sub(" ", text)))
