"""Guards the languages of the report: complete, the same blanks, and never an old translation for a new caution."""

from __future__ import annotations

import string
from dataclasses import replace

import pytest

from eventlens import cautions, patterns
from eventlens.causes.complaints import QUESTIONS
from eventlens.causes.facts import load_knowledge
from eventlens.cli import options
from eventlens.duty.groups import CONFIDENCES
from eventlens.life.period import FACTORS, RULE_AT_THE_END
from eventlens.report import document
from eventlens.report.document.language import SOURCE_LANGUAGE, words_of
from eventlens.report.document.model import PAPERS
from eventlens.schema import ENDINGS, NOT_ASSESSED_WHY, SEVERITIES
from eventlens.signals import MOTIONS
from eventlens.wiring import known_limits
from tests.report.documents import Elements, html, one_drop_out

LIFE_AND_LOG = {RULE_AT_THE_END, "contactor tips", "brake", "relay", "rope", "heavy", "severe", "silence", "restart"}
LIFE_AND_LOG |= {"monthly", "weekly to monthly", "daily to weekly", "yearly", "half-yearly", "quarterly"}
LIFE_AND_LOG |= {"a stop for each end of a run", "an operation for each start", "full paths up and down, measured"}
"""Short texts of life and of holes, beside the knowledge."""
OTHERS = [code for code in document.languages() if code != SOURCE_LANGUAGE]


def blanks(sentence: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(sentence) if name}


def test_two_languages() -> None:
    assert document.languages() == ("de", "en")
    assert [one.value for one in options.Language] == ["en", "de"]
    assert tuple(one.value for one in options.Paper) == PAPERS


@pytest.mark.parametrize("code", OTHERS)
def test_the_same_keys_and_blanks(code: str) -> None:
    english, other = words_of(SOURCE_LANGUAGE).words, words_of(code).words
    assert set(other) == set(english)
    for key, sentence in english.items():
        assert blanks(other[key]) == blanks(sentence), key
        assert other[key].strip()


def test_words_for_everything_that_a_review_can_hold() -> None:
    keys = words_of(SOURCE_LANGUAGE).words
    wanted = [f"severity_{name}" for name in SEVERITIES] + [f"ending_{name}" for name in ENDINGS]
    wanted += [f"why_not_{name}" for name in NOT_ASSESSED_WHY] + [f"motion_{name}" for name in MOTIONS]
    wanted += [f"asks_{question.key}" for question in QUESTIONS]
    wanted += [f"state_{check.state}" for check in load_knowledge().checks.values()]
    wanted += [f"recording_{name}" for factors in FACTORS.values() for name in factors]
    wanted += [f"when_drawn_{name}" for name in ("days", "weeks")]
    wanted += [f"confidence_{name.replace(' ', '_')}" for name in CONFIDENCES]
    assert [key for key in wanted if key not in keys] == []


@pytest.mark.parametrize("code", OTHERS)
def test_knowledge_patterns_cautions_and_units_are_translated(code: str) -> None:
    known, knowledge = words_of(code).known, load_knowledge()
    wanted = [*cautions.GENERAL, *(caution.text for caution in knowledge.cautions.values())]
    for cause in knowledge.causes.values():
        wanted += [cause.title, cause.out_of_use]
        own = [step for step in cause.checks if knowledge.checks[step.check].state != "desk"]  # others are not proposed
        wanted += [text for step in own for text in (step.positive, step.negative)]
    for check in knowledge.checks.values():
        wanted += [check.what, check.tool]
    for pattern in patterns.catalogue().values():
        wanted += [pattern.title, pattern.usually, pattern.why_severity, pattern.unit]
    wanted += [evidence.title for evidence in knowledge.evidence.values()]
    wanted += [limit.unit for limit in known_limits()]
    assert [text for text in wanted if text and text not in known] == []
    assert set(known) - set(wanted) == LIFE_AND_LOG, "a translation of what nobody says any more"


@pytest.mark.parametrize("code", OTHERS)
def test_a_caution_that_somebody_changed_is_shown_as_it_now_is_and_marked_as_english(code: str) -> None:
    review = one_drop_out()
    said = "Wait until the red lamp is out."
    found = Elements(html(replace(review, cautions=(said, *review.cautions[1:])), code))
    assert said in found.text
    assert words_of(code).known[review.cautions[0]] not in found.text
    page = html(replace(review, cautions=(said,)), code)
    assert f'<span lang="en">{said}</span>' in page


@pytest.mark.parametrize("code", OTHERS)
def test_what_is_not_translated_is_said_and_marked(code: str) -> None:
    page = html(one_drop_out(), code)
    assert words_of(code)("language_note") in Elements(page).text
    source = known_limits()[0].source
    assert f'<span lang="en">{source}' in page
    assert 'lang="en"' not in html(one_drop_out(), SOURCE_LANGUAGE).partition("<body>")[2]


def test_numbers_with_the_decimal_sign_of_the_language() -> None:
    assert words_of("de").number(0.125) == "0,125"
    assert words_of("en").number(0.125) == "0.125"
    assert words_of("de").span(5400) == "90,0 min"
