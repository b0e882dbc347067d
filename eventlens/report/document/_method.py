"""Method with every limit used and its source, cautions, and what is needed to repeat the review."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.metadata import version
from typing import Any

from eventlens.limits import Limit
from eventlens.report.document.language import SOURCE_LANGUAGE, Words, code, text
from eventlens.report.document.model import Block, Bullets, Facts, Inline, Paragraph, Section, Span, Table
from eventlens.result import Review
from eventlens.wiring import known_limits

METHOD = ("states", "uncertainty", "rates", "starts", "duty", "causes", "absence")
"""The sentences of the method (words `method_...`)."""


def method(review: Review, words: Words) -> list[Section]:
    """How the review came about."""
    own = review.machine.limits
    known = known_limits()
    heads = tuple(words.say(f"head_{name}") for name in ("limit_name", "value", "unit", "source"))
    rows = tuple(_limit(item, own, words) for item in known)
    untranslated = () if words.code == SOURCE_LANGUAGE else (words.say("language_note"),)
    sentences = (*(words.say(f"method_{name}") for name in METHOD), *untranslated)
    table = Table(words("limits_table"), heads, rows, (1,), (28, 9, 15, 48), silent=True)
    limits = (Paragraph(words.say("limits_intro", n=len(own))), table)
    return [Section("method", words("method"), (Bullets(sentences),)), Section("limits", words("limits"), limits)]


def _limit(item: Limit, own: dict[str, float], words: Words) -> tuple[Inline, ...]:
    if item.name in own:
        source = text(words("from_machine_file", default=_plain(item.default, words)), words.english(item.source))
        return (
            (code(item.name),),
            (Span(_plain(own[item.name], words), "", "strong"),),
            (words.english(item.unit),),
            source,
        )
    return (
        (code(item.name),),
        text(_plain(item.default, words)),
        (words.english(item.unit),),
        (words.english(item.source),),
    )


def _plain(value: float, words: Words) -> str:
    """A number as a machine file would hold it, with the decimal sign of the language."""
    return f"{value:.12g}".replace(".", words("decimal"))


def cautions(review: Review, words: Words) -> Section:
    """Every caution of the review and of the checks that it writes out, once."""
    diagnosis = review.causes
    of_checks = (caution.text for one in diagnosis.proposals for caution in diagnosis.knowledge.cautions_of(one.check))
    every = dict.fromkeys((*review.cautions, *of_checks))
    return Section("cautions", words("cautions"), (Bullets(tuple((words.english(one),) for one in every)),))


def repeat(review: Review, words: Words) -> Section:
    """Files with their hashes, version, settings and names: enough to make the same review again."""
    log = review.log
    heads = tuple(words.say(f"head_{name}") for name in ("file", "rows", "sha"))
    files = tuple(((code(file.name),), text(str(file.rows)), (code(file.sha256),)) for file in log.files)
    blocks: list[Block] = [
        Paragraph(words.say("repeat_intro")),
        Table(words("files_table"), heads, files, (1,), (28, 10, 62)),
        Facts(tuple(_settings(review, words))),
    ]
    names = tuple(
        (
            (code(name),),
            (code(signal),) if signal else words.say("not_mapped"),
            text(str(rows)),
            words.say(f"mapped_{how}"),
        )
        for name, signal, rows, how in log.names.select("name", "signal", "rows", "mapped_by").iter_rows()
    )
    heads = tuple(words.say(f"head_{name}") for name in ("name", "signal", "records", "mapped_by"))
    blocks.append(Table(words("names_table"), heads, names, (2,), (32, 34, 12, 22)))
    return Section("repeat", words("repeat"), tuple(blocks))


def _settings(review: Review, words: Words) -> Iterator[tuple[Inline, Inline]]:
    yield words.say("version"), (code(f"eventlens {version('eventlens')}"),)
    yield words.say("profile"), (code(review.log.profile),) if review.log.profile else words.say("without_profile")
    stated = sorted(_flat(review.machine.model_dump(mode="json", exclude_defaults=True)))
    yield (
        words.say("machine_file"),
        (code("; ".join(f"{key} = {value}" for key, value in stated)),) if stated else words.say("machine_default"),
    )
    yield words.say("zone"), (code(review.log.timezone),)
    changed = (*review.causes.knowledge.replaced, *review.causes.knowledge.added)
    yield words.say("knowledge"), (code(", ".join(changed)),) if changed else words.say("knowledge_own")
    made = [
        f"{check}:{cause}={'positive' if ok else 'negative'}" for (check, cause), ok in review.causes.outcomes.items()
    ]
    yield words.say("checks_made"), (code(" ".join(made)),) if made else words.say("none")


def _flat(tree: dict[str, Any], path: str = "") -> Iterator[tuple[str, str]]:
    for key, value in tree.items():
        here = f"{path}.{key}" if path else key
        if isinstance(value, dict):
            yield from _flat(value, here)
        else:
            yield here, str(value)
