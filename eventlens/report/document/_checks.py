"""A check as a box that stays together: what to do, in which state of the machine, what it means, and every caution."""

from __future__ import annotations

from eventlens.causes.checks import Proposal
from eventlens.causes.models import Knowledge
from eventlens.causes.ranking import step_of
from eventlens.report.document.language import Words, code, text
from eventlens.report.document.model import Box, Bullets, Facts, Inline, Paragraph


def check_box(proposal: Proposal, knowledge: Knowledge, words: Words, number: int) -> Box:
    """One check for one cause with everything that somebody needs who makes it."""
    check = knowledge.checks[proposal.check]
    own = step_of(knowledge.causes[proposal.cause], proposal.check)
    facts: list[tuple[Inline, Inline]] = [
        (words.say("settles"), (words.english(knowledge.causes[proposal.cause].title),)),
        (words.say("state"), words.say(f"state_{check.state}")),
        (words.say("takes"), text(words("minutes", n=f"{check.minutes:g}"), words.english(check.tool))),
    ]
    if own:
        facts.append((words.say("positive"), (words.english(own.positive),)))
        facts.append((words.say("negative"), (words.english(own.negative),)))
    facts.append(
        (words.say("then"), text(code(f"--checked {proposal.check}:{proposal.cause}=positive"), words("or_negative")))
    )
    cautions = tuple((words.english(caution.text),) for caution in knowledge.cautions_of(proposal.check))
    return Box(
        "check",
        text(words("check_n", n=number), " ", words.english(check.what)),
        (
            Facts(tuple(facts)),
            Paragraph(text(words("cautions_of_check"))),
            Bullets(cautions),
        ),
    )
