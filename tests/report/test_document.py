"""Guards the report that is handed over: both forms complete, safe, accessible, and the same bytes each time."""

from __future__ import annotations

import re
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from eventlens import patterns
from eventlens.errors import EventlensError
from eventlens.report import document
from eventlens.report.document import _causes, _findings, _front
from eventlens.report.document.content import document_of
from eventlens.report.document.language import words_of
from eventlens.report.document.model import Box, Bullets, Figure, Table, plain
from eventlens.report.document.pdf import ALSO, COVERED
from eventlens.report.words import span
from eventlens.result import Review
from eventlens.wiring import known_limits
from tests.report.documents import (
    HOSTILE,
    Elements,
    empty,
    html,
    load_measured,
    one_drop_out,
    pdf,
    with_findings,
    with_holes,
    with_names,
    words_of_pdf,
    worked,
)

SVG = 'xmlns="http://www.w3.org/2000/svg"'
"""The name of a drawing's vocabulary: no address that anything is loaded from."""


def sections(review: Review, language: str = "en") -> dict[str, tuple[object, ...]]:
    return {section.id: section.blocks for section in document_of(review, words_of(language)).sections}


def boxes(review: Review) -> list[Box]:
    return [block for blocks in sections(review).values() for block in blocks if isinstance(block, Box)]


@pytest.mark.parametrize("language", document.languages())
def test_both_forms_hold_every_finding_and_every_limit(language: str) -> None:
    review, words = one_drop_out(), words_of(language)
    assert review.findings.height >= 1
    page, printed = Elements(html(review, language)).text, words_of_pdf(pdf(review, language))
    for name in review.findings["pattern"]:
        title = words.title(patterns.catalogue()[name].title)
        assert title in page
        assert title in printed
    for limit in known_limits():
        assert limit.name in page
        assert limit.name in printed.replace(" ", "") or limit.name in printed


def test_every_limit_stands_with_its_value_unit_and_source() -> None:
    table = next(block for block in sections(one_drop_out())["limits"] if isinstance(block, Table))
    rows = {plain(row[0]): [plain(cell) for cell in row[1:]] for row in table.rows}
    assert set(rows) == {limit.name for limit in known_limits()}
    for limit in known_limits():
        value, unit, source = rows[limit.name]
        assert float(value) == limit.default
        assert (unit, source) == (limit.unit, limit.source)


def test_a_limit_of_the_machine_file_stands_with_the_default_that_it_replaces() -> None:
    machine = one_drop_out().machine.model_copy(update={"limits": {"no_start_s": 0.9}})
    table = next(b for b in sections(replace(one_drop_out(), machine=machine))["limits"] if isinstance(b, Table))
    row = next(row for row in table.rows if plain(row[0]) == "no_start_s")
    assert (plain(row[1]), row[1][0].style) == ("0.9", "strong")
    assert plain(row[3]).startswith("machine file, in place of 0.7")  # the default, see the pattern no_start


def test_whoever_makes_a_check_finds_its_cautions_in_the_same_box() -> None:
    review = one_drop_out()
    diagnosis = review.causes
    made = [box for box in boxes(review) if box.tone == "check"]
    assert len(made) == 1 + min(_causes.CHECKS, len({one.check for one in diagnosis.proposals}) - 1)
    asked = {diagnosis.knowledge.checks[one.check].what: one.check for one in diagnosis.proposals}
    for box in made:
        check = asked[plain(box.title).partition(": ")[2]]
        said = [plain(item) for block in box.blocks if isinstance(block, Bullets) for item in block.items]
        assert said == [caution.text for caution in diagnosis.knowledge.cautions_of(check)]
        assert said
    assert plain(made[0].title).endswith(diagnosis.knowledge.checks[diagnosis.next.check].what)  # type: ignore[union-attr]


def test_the_caution_is_on_every_page() -> None:
    reader = pdf(with_findings(one_drop_out(), 30))
    assert len(reader.pages) > 5
    for page in reader.pages:
        assert "lock out and tag out, prove dead" in " ".join(page.extract_text().split())


def test_what_takes_the_machine_out_of_use_is_the_first_thing_said() -> None:
    found = one_drop_out().findings.with_columns(
        severity=one_drop_out().findings["severity"].replace("repair", "out_of_service")
    )
    review = replace(one_drop_out(), findings=found)
    assert "out_of_service" in review.findings["severity"].to_list()
    first = sections(review)["found"][0]
    assert isinstance(first, Box)
    assert first.tone == "stop"
    assert "lets it run, without a load" in plain(first.blocks[-1].text)  # type: ignore[union-attr]
    assert not any(box.tone == "stop" for box in boxes(one_drop_out()))


@pytest.mark.parametrize("language", document.languages())
def test_the_page_asks_nothing_of_anybody(language: str) -> None:
    page = html(one_drop_out(), language)
    assert not re.findall(r"https?:|//[a-z]", page.replace(SVG, ""))
    assert "url(" not in page
    assert "@import" not in page
    loading = {"src", "srcset", "data", "action", "poster", "background"}
    for tag, attributes in Elements(page).found:
        assert tag not in {"script", "link", "iframe", "img", "object", "embed", "base", "form"}
        assert not loading & set(attributes)
        assert not [name for name in attributes if name.startswith("on")]
        assert (attributes.get("href") or "#").startswith("#")


def test_names_are_only_text_in_both_forms() -> None:
    review = with_names(one_drop_out(), HOSTILE)
    page = Elements(html(review))
    assert "script" not in {tag for tag, _ in page.found}
    shown = '<script>alert(1)</script> #import "x": * $x$ `raw` {{ 7*7 }} 中 \\u202e'
    assert page.text.count(shown) > 5
    reader = pdf(review)
    printed = words_of_pdf(reader)
    assert '<script>alert(1)</script> #import "x": * $x$ `raw` {{ 7*7 }} [U+4E2D]' in printed
    assert "49" not in printed.partition("Review of hoist")[2][:200]


def test_the_same_log_gives_the_same_bytes() -> None:
    from tests.report.stories import reviewed

    other = reviewed(group="M5", rated_load_kg=3200)
    for form in document.FORMS:
        assert document.render(one_drop_out(), form) == document.render(other, form)


@pytest.mark.parametrize(("paper", "size"), [("a4", (595.28, 841.89)), ("letter", (612.0, 792.0))])  # ISO 216, ANSI A
def test_both_papers(paper: str, size: tuple[float, float]) -> None:
    box = pdf(one_drop_out(), paper=paper).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(size, abs=0.02)
    assert (
        f"size: {'A4' if paper == 'a4' else 'letter'}" in document.render(one_drop_out(), ".html", paper=paper).decode()
    )


@pytest.mark.parametrize("language", document.languages())
def test_the_pdf_is_tagged_and_says_what_it_is(language: str) -> None:
    reader = pdf(one_drop_out(), language)
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert str(root["/Lang"]).startswith(language)
    assert "/StructTreeRoot" in root
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert "SAW-3" in str(reader.metadata.title)  # type: ignore[union-attr]
    assert reader.metadata.creation_date is None or reader.metadata.creation_date.year == 1970  # type: ignore[union-attr]
    assert b"pdfuaid:part" in root["/Metadata"].get_data()
    assert len(reader.outline) >= 1


def test_the_page_can_be_read_aloud() -> None:
    page = Elements(html(one_drop_out()))
    tags = [tag for tag, _ in page.found]
    assert dict(page.found)["html"] == {"lang": "en"}
    assert tags.count("h1") == 1
    assert tags.count("table") == tags.count("caption")
    assert all(attributes.get("scope") in ("col", "row") for tag, attributes in page.found if tag == "th")
    pictures = [attributes for tag, attributes in page.found if attributes.get("role") == "img"]
    assert pictures
    assert all("Timing diagram" in str(attributes["aria-label"]) for attributes in pictures)
    ids = [attributes["id"] for _, attributes in page.found if "id" in attributes]
    assert len(ids) == len(set(ids))
    links = {str(attributes["href"])[1:] for tag, attributes in page.found if tag == "a"}
    assert links <= set(ids)


def test_a_review_without_findings_says_that_this_is_no_inspection() -> None:
    review = empty()
    assert review.findings.is_empty()
    for text in (Elements(html(review)).text, words_of_pdf(pdf(review))):
        assert "Nothing was found among the patterns that could be assessed. That is no inspection" in text
        assert "Nothing beyond the inspections" in text
    assert "causes" not in sections(review)


def test_holes_are_said_on_the_first_page_and_listed() -> None:
    text = Elements(html(with_holes())).text
    assert "The log has holes (2)" in text
    table = next(b for b in sections(with_holes())["quality"] if isinstance(b, Table) and b.caption == "Holes")
    assert [plain(row[2]) for row in table.rows] == ["100 s", "8.3 min"]  # 100 to 200 s and 1000 to 1500 s


def test_two_hundred_findings_are_all_in_the_table_and_the_rest_is_said() -> None:
    review = with_findings(one_drop_out(), 200)
    found = sections(review)
    table = next(block for block in found["findings"] if isinstance(block, Table))
    assert len(table.rows) == 200
    assert sum(isinstance(block, Figure) for block in found["evidence"]) == _findings.DRAWN
    page = Elements(html(review)).text
    assert f"{200 - _findings.EXPLAINED} more findings" in page
    assert f"{_findings.EXPLAINED - _findings.DRAWN} of the findings explained here have no diagram" in page
    printed = words_of_pdf(pdf(review))
    assert f"{200 - _findings.EXPLAINED} more findings" in printed
    assert "200" in printed


def test_hashes_and_version_of_what_was_read() -> None:
    review = one_drop_out()
    for text in (Elements(html(review)).text, words_of_pdf(pdf(review)).replace(" ", "")):
        assert all(file.sha256 in text for file in review.log.files)
        assert "eventlens" in text


def test_every_character_that_counts_as_covered_is_drawn() -> None:
    every = "".join(chr(n) for first, last in COVERED for n in range(first, last + 1)) + "".join(sorted(ALSO))
    review = with_names(one_drop_out(), "x " + every)
    assert "[U+" not in words_of_pdf(pdf(review))  # a missing glyph would not have compiled at all


def test_writes_by_the_ending_of_the_file(tmp_path: Path) -> None:
    for name, magic in (("a.PDF", b"%PDF-"), ("a.html", b"<!DOCTYPE html>")):
        one_drop_out().to_report(tmp_path / name)
        assert (tmp_path / name).read_bytes().startswith(magic)


@pytest.mark.parametrize(
    ("name", "options", "says"),
    [
        ("a.docx", {}, "wanted a report that ends in .html or .pdf, got 'a.docx'"),
        ("a.pdf", {"paper": "a5"}, "wanted a paper of the report, got 'a5'"),
        ("a.pdf", {"language": "dee"}, "wanted a language of the report, got 'dee'; did you mean 'de'?"),
        ("a.pdf", {"sections": ["lief"]}, "wanted a section of the report, got 'lief'; did you mean 'life'?"),
    ],
)
def test_what_is_not_known_is_one_sentence(name: str, options: dict[str, Any], says: str, tmp_path: Path) -> None:
    with pytest.raises(EventlensError, match=re.escape(says)):
        one_drop_out().to_report(tmp_path / name, **options)
    assert not (tmp_path / name).exists()


def test_every_section_either_stays_or_may_be_left_out() -> None:
    assert set(sections(one_drop_out())) | {"clear"} == {*document.ALWAYS, *document.CHOICE}
    assert not {*document.ALWAYS} & {*document.CHOICE}
    assert document.titles("de")["life"] == "Lebensdauer"


@pytest.mark.parametrize("language", document.languages())
def test_what_protects_people_stays_whatever_is_left_out(language: str) -> None:
    review, words = one_drop_out(), words_of(language)
    short = document_of(review, words, ())
    assert [section.id for section in short.sections] == list(document.ALWAYS)
    caution = words.english(review.cautions[0]).text
    for shown in (
        Elements(document.render(review, ".html", language=language, sections=()).decode()).text,
        words_of_pdf(PdfReader(BytesIO(document.render(review, ".pdf", language=language, sections=())))),
    ):
        left_out = f"{words('left_out')} {words('evidence')}, {words('causes')}"
        for said in (caution, words("gaps"), review.log.files[0].sha256[:16], left_out):
            assert said.replace(" ", "") in shown.replace(" ", "")


def test_only_the_sections_that_were_chosen_and_in_their_order() -> None:
    words = words_of("en")
    found = document_of(one_drop_out(), words, document.chosen(["life", "causes", "found"]))
    assert [section.id for section in found.sections if section.id in document.CHOICE] == ["causes", "life"]
    assert document.chosen(None) == document.CHOICE
    assert "left out" not in [plain(label) for label, _ in document_of(one_drop_out(), words).identity.pairs]


def test_without_the_causes_every_complaint_is_answered_on_the_first_page() -> None:
    review, words = with_findings(one_drop_out(), 200), words_of("en")
    number = len(review.causes.answers)
    assert number > _front.COMPLAINTS
    for wanted, answered in (((), number), (document.CHOICE, _front.COMPLAINTS)):
        found = document_of(review, words, wanted).sections[0].blocks
        lists = [block for block in found if isinstance(block, Bullets)]
        assert len(lists[-1].items) == answered


def test_kinds_of_work_are_those_of_the_review() -> None:
    review = worked()
    assert review.work.table.height == 3
    table = next(block for block in sections(review)["work"] if isinstance(block, Table))
    shown = [(plain(row[1]).split("(")[1].rstrip(")"), plain(row[2])) for row in table.rows]
    kinds = review.work.table.select("count", "length_s").rows()
    assert [int(count) for count, _ in shown] == [count for count, _ in kinds]
    assert [length for _, length in shown] == [span(length_s) for _, length_s in kinds]
    assert {plain(row[0]) for row in table.rows} == {"runs of the hoist", "work cycles"}
    assert [length for _, length in shown[:2]] == ["12 s", "2 s"]  # as the log was made


def test_of_what_there_is_too_little_log_for_kinds_is_said() -> None:
    blocks = sections(one_drop_out())["work"]
    assert not any(isinstance(block, Table) for block in blocks)
    assert "in the log, kinds need 100" in "".join(plain(i) for b in blocks if isinstance(b, Bullets) for i in b.items)


def test_lifts_by_load_where_it_is_measured() -> None:
    review = load_measured()
    lifts = review.motions["hoist"].lifts
    assert lifts is not None
    table = next(b for b in sections(review)["duty"] if isinstance(b, Table) and b.caption == "Lifts by load")
    assert sum(int(plain(row[1])) for row in table.rows) == lifts.lifts == 2  # by hand: two raises with a load
    assert [plain(row[0]) for row in table.rows if plain(row[1]) == "2"] == ["above 25 to 50 %"]  # 1000 kg of 3200 kg


def test_equivalent_starts_stand_beside_raw_ones_in_both_languages() -> None:
    # two raises and two lowers of 3 s and more, none of them a jog or plugging: four either way, counted by hand
    english, german = (Elements(html(load_measured(), language)).text for language in ("en", "de"))
    assert (
        "4 at most, mean 4: raw starts, which the limits count; weighed as complete ones 4 at most, mean 4" in english
    )
    assert (
        "höchstens 4, im Mittel 4: jeder Anlauf, wie die Grenzen zählen; gewogen als vollständige höchstens 4" in german
    )
    assert "category AC-3 for a cage motor: 0 jogs or pluggings of one contactor in a minute at most" in english
    assert "Gebrauchskategorie AC-3 für einen Käfigläufer" in german
