"""Reports in other languages: nothing is left out of the catalogues, and what a reader gets is in one language."""

from __future__ import annotations

import ast
import csv
import re
import threading
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from itertools import chain
from pathlib import Path
from string import Formatter
from typing import get_args

import pytest
from babel.messages.pofile import read_po
from browser import needs_browser
from conftest import COURTYARD, report_in
from kit.fullest import beside_many, fullest_year
from kit.messages import SIM, messages
from kit.pages import parts_of, text_of
from pypdf import PdfReader

from sim.browser import PAPERS, print_pdf
from sim.cli import main
from sim.figures.causes import CAUSES
from sim.language import ENGLISH, ROOM, Language, catalogue, day_and_month, digits, month_name, say, say_many, speaking
from sim.report.page import TRANSLATED
from sim.report.render import client_report, year_report
from sim.studies.commissioning import expected_readings
from sim.studies.result import YearResult

OTHERS: tuple[Language, ...] = tuple(one for one in get_args(Language) if one != ENGLISH)
LANGUAGES = pytest.mark.parametrize("language", OTHERS)
WORDS = re.compile(r"[^\W\d_]{2,}")
DOCUMENTED = (ast.Module, ast.FunctionDef, ast.ClassDef)
SENTENCE_WORDS = 3  # fewer may be the same in two languages


def told(result: YearResult, language: Language) -> YearResult:
    """The same year for readers of a language."""
    return replace(result, scenario=result.scenario.but(report={"language": language}))


def places(text: str) -> list[str]:
    """The named places of a message."""
    return sorted(name for _, name, _, _ in Formatter().parse(text) if name)


def section_of(html: str, key: str) -> str:
    """A section as it is written."""
    return html.split(f'<section id="{key}"')[1].split("</section>")[0]


def sentences(html: str) -> set[str]:
    """The pieces of text between two tags that are longer than a term."""
    drawn = re.sub(r"^[^>]*>|<style.*?</style>", "", html, flags=re.DOTALL)
    pieces = {text_of(piece) for piece in re.split(r"<[^>]+>", drawn)}
    return {piece for piece in pieces if len(WORDS.findall(piece)) >= SENTENCE_WORDS}


# The catalogues


def test_the_messages_are_found() -> None:
    """The tests here look at sentences of sources, templates and tables, of which there are some."""
    said = {one for several in messages() for one in several}
    assert {"Cautions", "Do not", "pump running in the dark", "{count} days", "lead-acid, gel"} <= said


@LANGUAGES
def test_every_message_has_a_translation(language: Language) -> None:
    """None is missing, doubtful or left over, and each has the places of the English one."""
    with (ROOM / f"{language}.po").open("rb") as text:
        found = {message.id: message for message in read_po(text, locale=language) if message.id}
    assert {one if isinstance(one, tuple) else (one,) for one in found} == messages()
    for message in found.values():
        one, *_ = ids = (message.id,) if isinstance(message.id, str) else message.id
        said = (message.string,) if isinstance(message.string, str) else message.string
        assert len(said) == len(ids) and all(said) and not message.fuzzy, message.id
        assert all(places(text) == places(one) for text in said), message.id
        assert not re.search('[<>"]', "".join(said)), message.id


@LANGUAGES
def test_terms_are_those_of_the_glossary(language: Language) -> None:
    """Where the English sentence has a term, its translation has the term's."""
    with (ROOM / "glossary.csv").open(encoding="utf-8", newline="") as table:
        terms = list(csv.DictReader(table))
    for term in terms:
        term_in = re.compile(rf"(?<![\w.]){term['english']}s?\b(?![^{{]*}})(?!\.\w)", re.IGNORECASE)
        having = [one for one, *_ in messages() if term_in.search(one)]
        assert having, f"nothing speaks of {term['english']}"
        for one in having:
            assert term[language].lower() in catalogue(language).gettext(one).lower(), one


def _of_what_passed(node: ast.AST) -> bool:
    """Whether a piece of source says what a rule looked at that is kept: a table in the English part of the report."""
    called = isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Passed"
    named = isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name) and node.targets[0].id == "what"
    return called or named


def _text(node: ast.AST) -> str:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""


def test_findings_are_sentences_that_can_be_told_again() -> None:
    """No rule puts a sentence together itself, which nobody could translate: more than two words are a message."""
    said = {one for several in messages() for one in several}
    for path in (SIM / "checks").glob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        documented = {ast.get_docstring(node, clean=False) for node in ast.walk(tree) if isinstance(node, DOCUMENTED)}
        documented |= set(map(_text, chain.from_iterable(map(ast.walk, filter(_of_what_passed, ast.walk(tree))))))
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value not in documented:
                assert len(node.value.split()) < SENTENCE_WORDS or node.value in said | {*CAUSES}, node.value


def test_catalogues_of_the_languages_and_no_others() -> None:
    """Each language that a scenario may name has one."""
    assert {path.name for path in Path(str(ROOM)).glob("*.po")} == {f"{one}.po" for one in OTHERS}


# Figures, dates and what is said now


@pytest.mark.parametrize(
    ("language", "number", "dated", "month", "days"),
    [
        ("en", "1,234.5", "1 February", "July", "2 days"),
        ("de", "1.234,5", "1. Februar", "Juli", "2 Tage"),
        ("fr", "1\u202f234,5", "1 février", "juillet", "2 jours"),
        ("es", "1.234,5", "1 de febrero", "julio", "2 días"),
        ("nl", "1.234,5", "1 februari", "juli", "2 dagen"),
    ],
)
def test_figures_and_dates(language: Language, number: str, dated: str, month: str, days: str) -> None:
    """As each language writes them (published: Unicode CLDR)."""
    with speaking(language):
        assert digits("1,234.5") == number
        assert day_and_month(date(2004, 2, 1)) == dated and month_name(7) == month
        assert say_many("{count} day", "{count} days", 2) == days


def test_threads_speak_each_their_own() -> None:
    """Readers of several languages at once do not hear one another, and afterwards all is English."""
    heard: dict[str, set[str]] = {}
    together = threading.Barrier(len(OTHERS))

    def read(language: Language) -> None:
        with speaking(language):
            together.wait(timeout=20)
            heard[language] = {say("Cautions") for _ in range(200)}

    readers = [threading.Thread(target=read, args=(language,)) for language in OTHERS]
    for reader in readers:
        reader.start()
    for reader in readers:
        reader.join()
    assert heard == {language: {catalogue(language).gettext("Cautions")} for language in OTHERS}
    assert say("Cautions") == "Cautions"


def test_after_a_mistake_it_is_english_again() -> None:
    """A report that fails leaves no language behind."""
    with pytest.raises(KeyError), speaking("de"):
        say("{hours} hours".replace("hours}", "none}"), hours="1")
    assert say("Cautions") == "Cautions"


# The report


@pytest.fixture(scope="module")
def with_readings(any_year: YearResult) -> YearResult:
    """A year with its commissioning sheet."""
    return replace(any_year, readings=expected_readings(any_year.scenario))


def translated(result: YearResult, language: Language) -> Iterator[tuple[str, str]]:
    """Each translated section in English and in a language."""
    english, other = (parts_of(year, *TRANSLATED) for year in (result, told(result, language)))
    for key in ("client", "findings", "commissioning", "cautions"):
        yield section_of(english, key), section_of(other, key)


@LANGUAGES
def test_no_english_sentence_is_left(with_readings: YearResult, language: Language) -> None:
    """Page, sheet and cautions have no sentence of their English selves but the weather's source."""
    for english, other in translated(with_readings, language):
        assert sentences(english) & sentences(other) <= {text_of(with_readings.weather.source)}
        assert len(sentences(other)) >= len(sentences(english)) - 1


@LANGUAGES
def test_figures_are_the_same(with_readings: YearResult, language: Language) -> None:
    """Settings and readings have the figures of the English page, with this language's commas."""
    for english, other in translated(with_readings, language):
        cells = [re.findall(r"<td>([\d.,–]+)</td>", part) for part in (english, other)]
        assert [digits_in(cell, language) for cell in cells[0]] == cells[1]


def digits_in(cell: str, language: Language) -> str:
    """A cell's figures as a language writes them."""
    with speaking(language):
        return digits(cell)


def test_each_part_says_its_language(courtyard_year: YearResult) -> None:
    """The page is German, what is not translated is marked as English; an English page marks nothing."""
    english, german = report_in(COURTYARD), year_report(told(courtyard_year, "de"))
    assert '<html lang="de">' in german and '<section id="client" aria' in german
    assert '<section id="water" lang="en"' in german and '<section id="cautions" aria' in german
    assert f'<span lang="en">{courtyard_year.weather.source}' in german
    assert english.count("lang=") == 1 and '<html lang="en">' in english


def test_local_practice_decides(courtyard_year: YearResult) -> None:
    """The translated page says so, and that the rest is English."""
    assert "es gilt, was am Ort üblich ist" in text_of(client_report(told(courtyard_year, "de")))
    assert "der übrige Bericht ist auf Englisch" in text_of(client_report(told(courtyard_year, "de")))


def test_language_by_command(tmp_path: Path) -> None:
    """The option goes before the scenario's, and a language that there is not is refused."""
    assert main(["year", str(COURTYARD), "--out", str(tmp_path), "--no-log", "--language", "nl"]) == 0
    assert '<html lang="nl">' in (tmp_path / "courtyard-year.html").read_text(encoding="utf-8")
    with pytest.raises(SystemExit) as refused:
        main(["year", str(COURTYARD), "--language", "xx"])
    assert refused.value.code == 2


@pytest.fixture(scope="module")
def fullest() -> YearResult:
    """A year with the longest title, a timer with four windows, a season, cleanings, prices and a poor year."""
    return beside_many(fullest_year(), 1.1)


@pytest.mark.parametrize("language", [OTHERS[0], *(pytest.param(one, marks=pytest.mark.long) for one in OTHERS[1:])])
@pytest.mark.parametrize("paper", PAPERS)
def test_first_page_is_one_page(tmp_path: Path, fullest: YearResult, language: Language, paper: str) -> None:
    """The longest page is one sheet, from its kind to its last line."""
    needs_browser()
    print_pdf(client_report(told(fullest, language)), tmp_path / "page.pdf", paper)
    (page,) = PdfReader(tmp_path / "page.pdf").pages
    said = " ".join(page.extract_text().split())
    with speaking(language):
        assert all(
            " ".join(say(one).split()) in said for one in ("Signature", "An estimate, not a guarantee.", "Weather:")
        )
