"""Phone and service find the same words in the same catalogue."""

from __future__ import annotations

import pytest
from browser.conftest import EXAMPLES, Open
from texts.test_every_text import COMPOSED, OTHERS, PHRASES, jobs
from texts.wording import PLACE, raised, told

from chargewright import open_job
from chargewright.machine.cause_file import catalogue
from chargewright.texts.catalogue import section, shared_words
from chargewright.texts.speech import PLACE as FORM
from chargewright.texts.speech import Speech


def sentences() -> list[str]:
    """Return what the service can say to a phone, a figure or a quoted word in each place."""
    found: set[str] = set()
    for job in jobs():
        found |= {check.how for check in job.case.catalogue if check.how}
        found |= set(job.case.book.cautions.values())
    for phrase in PHRASES:
        found |= {one.words.replace("{value}", phrase) for one in catalogue().causes if one.words}
    for _, text in (*told(), *raised()):
        for part, whole in COMPOSED.items():
            text = text.replace(part, whole)
        found |= {text.replace(PLACE, one).strip() for one in ("12.5", "'qx'")}
    for name in ("open-job.json", "demo-job.json"):
        job = open_job(EXAMPLES / name)
        found |= {answer.title for answer in job.case.answers}
    found |= {
        "DC volts, red on battery positive post, black on frame, engine at 2750 rpm, lights on",
        "AC volts, red on alternator lead C, alternator side of the plug, black on frame, hot",
        "replace the battery and renew the alternator plug and its contacts",
        "of this nobody has written anything, 1.5 to 2",
    }
    return sorted(found)


@pytest.mark.parametrize("language", OTHERS)
def test_the_phone_says_what_the_service_would_say(open_page: Open, language: str) -> None:
    page = open_page("menu")
    page.wait_for_selector("main")
    asked = sentences()
    assert len(asked) > 800
    answers = page.evaluate(
        "async ([language, all]) => { const { figured, said, speak } = await"
        " import('/app/core/i18n.js'); await speak(language);"
        " return all.map((one) => [said(one), figured(one)]); }",
        [language, asked],
    )
    words = shared_words(language)
    forms = [key for key in words if FORM.search(key)]
    speech = Speech(language, words, forms, section(language, "figures"))
    other = {
        text: (theirs, ours)
        for text, theirs in zip(asked, answers, strict=True)
        if theirs != (ours := [speech.said(text), speech.figures(text)])
    }
    assert other == {}
