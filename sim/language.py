"""The language in which a reader is spoken to: sentences by catalogue, figures and dates by the reader's customs.

The program thinks in English: a message's id is the English sentence with named places for its figures. Whoever makes a
part for a reader does so within ``speaking``; everything else stays English. A language is a file
``languages/<code>.po``.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from functools import cache
from gettext import GNUTranslations, NullTranslations
from importlib.resources import files
from io import BytesIO
from re import sub
from typing import Literal

from sim.calendar import MONTH_NAMES, MONTHS

Language = Literal["en", "de", "fr", "es", "nl"]
ENGLISH: Language = "en"
ROOM = files("sim") / "languages"
_spoken: ContextVar[Language] = ContextVar("language", default=ENGLISH)


@contextmanager
def speaking(language: Language) -> Iterator[None]:
    """Whatever is put into words meanwhile, by this thread, is in a language; then it is as before.

    >>> with speaking("de"):
    ...     print(say("Cautions"))
    Sicherheitshinweise
    >>> say("Cautions")
    'Cautions'
    """
    before = _spoken.set(language)
    try:
        yield
    finally:
        _spoken.reset(before)


def spoken() -> Language:
    """The language of now."""
    return _spoken.get()


@cache
def catalogue(language: Language) -> NullTranslations:
    """The translations into a language, compiled in memory; none for English."""
    if language == ENGLISH:
        return NullTranslations()
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    compiled = BytesIO()
    with (ROOM / f"{language}.po").open("rb") as text:
        write_mo(compiled, read_po(text, locale=language))
    compiled.seek(0)
    return GNUTranslations(compiled)


def mark(text: str) -> str:
    """The text itself, to be said later: what is kept in a table is found by the test of the catalogues so."""
    return text


def say(text: str, /, **parts: object) -> str:
    """A sentence in the language of now, with its parts in their places."""
    said = catalogue(_spoken.get()).gettext(text)
    return said.format(**parts) if parts else said


def say_many(one: str, many: str, count: int, /, **parts: object) -> str:
    """A sentence for a count, which is the part of that name.

    >>> say_many("{count} day", "{count} days", 1), say_many("{count} day", "{count} days", 2)
    ('1 day', '2 days')
    """
    said = catalogue(_spoken.get()).ngettext(one, many, count)
    return said.format(count=digits(f"{count}"), **parts)


def digits(said: str) -> str:
    """Figures in plain English digits, as the language of now writes them.

    >>> with speaking("de"):
    ...     print(digits("1,234.50"), digits("12.2–12.4"))
    1.234,50 12,2–12,4
    """
    if _spoken.get() == ENGLISH:
        return said
    written = sub(r"\d[\d,]*(?:\.\d+)?", lambda found: _digits(found[0]), said)
    return sub(r"([\d.,]+)%", lambda found: say("{share} %", share=found[1]), written)


def _digits(plain: str) -> str:
    from decimal import Decimal

    from babel.numbers import format_decimal

    whole, _, rest = plain.partition(".")
    form = ("#,##0" if "," in whole else "0") + (f".{'0' * len(rest)}" if rest else "")
    return format_decimal(Decimal(plain.replace(",", "")), form, locale=_spoken.get())


def day_and_month(day: date) -> str:
    """A day of the year.

    >>> day_and_month(date(2004, 3, 15))
    '15 March'
    >>> with speaking("es"):
    ...     day_and_month(date(2004, 3, 15))
    '15 de marzo'
    """
    if _spoken.get() == ENGLISH:
        return f"{day.day} {MONTH_NAMES[day.month - 1]}"
    from babel.dates import format_skeleton

    return format_skeleton("MMMMd", day, locale=_spoken.get())


def month_name(month: int) -> str:
    """A month, counted from 1, within a sentence."""
    return MONTH_NAMES[month - 1] if _spoken.get() == ENGLISH else _months("wide")[month - 1]


def month_signs() -> tuple[str, ...]:
    """The twelve months, short."""
    return MONTHS if _spoken.get() == ENGLISH else _months("abbreviated")


def month_letters() -> tuple[str, ...]:
    """The same under a chart, where longer signs than the English ones would run into one another."""
    return MONTHS if _spoken.get() == ENGLISH else _months("narrow")


def _months(width: Literal["wide", "abbreviated", "narrow"]) -> tuple[str, ...]:
    from babel.dates import get_month_names

    context: Literal["format", "stand-alone"] = "stand-alone" if width == "narrow" else "format"
    names = get_month_names(width, context=context, locale=_spoken.get())
    return tuple(names[month].rstrip(".") for month in range(1, 13))
