"""What sections are made of: frozen values with every number in words, each drawn by the macro of its class's name."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from sim.calendar import MONTHS
from sim.units import Quantity, sign
from sim.words import figure

FITS = 34  # letters across a phone of 320 pixels, two between columns
CARDS, COLUMNS = 30, 14  # rows and columns at most of what becomes cards; more would be a long way to scroll

Form = str | Callable[[Any], str]  # a format, or what puts a value into words


@dataclass(frozen=True)
class Words:
    """A paragraph; ``manner`` is promise, estimate or small."""

    text: str
    manner: str = ""


@dataclass(frozen=True)
class Heading:
    """A heading within a section."""

    text: str


@dataclass(frozen=True)
class Points:
    """A list of sentences."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Fact:
    """A figure with what it means, and a remark; an empty value is a line to be filled in by hand."""

    name: str
    value: str
    remark: str = ""


@dataclass(frozen=True)
class Facts:
    """Figures one below the other."""

    items: tuple[Fact, ...]


@dataclass(frozen=True)
class Found:
    """A finding of a level, with what it rests on."""

    level: str
    message: str
    basis: str = ""
    title: str = ""  # the level in the reader's language


@dataclass(frozen=True)
class Blanks:
    """Lines to be filled in by hand, under their names."""

    names: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """A table: its headings, and rows whose first cell names the row."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def manner(self) -> str:
        """How a phone shows it: as it is where it fits, else as a card for each row, or one that scrolls if large."""
        columns = zip(self.head, *self.rows, strict=True)
        least = sum(max((len(word) for cell in column for word in cell.split()), default=0) + 2 for column in columns)
        if least <= FITS:
            return ""
        if len(self.rows) > CARDS or len(self.head) > COLUMNS:
            return "scrolls"
        return "cards months" if self.head[1:] == tuple(MONTHS) else "cards"


@dataclass(frozen=True)
class Key:
    """A legend's entry: the style of its mark, and what it stands for."""

    mark: str
    words: str


@dataclass(frozen=True)
class Legend:
    """The legend of several figures."""

    keys: tuple[Key, ...]


@dataclass(frozen=True)
class Figure:
    """A chart with its words, its legend and the table behind it."""

    svg: str
    caption: str
    legend: tuple[Key, ...]
    table: Table


@dataclass(frozen=True)
class Titled:
    """A figure under its own heading."""

    name: str
    figure: Figure


@dataclass(frozen=True)
class Multiples:
    """Figures side by side."""

    items: tuple[Titled, ...]


@dataclass(frozen=True)
class SiteRow:
    """A site among others: its title and name, where its report is, twelve small bars, and why it worries."""

    title: str
    name: str
    link: str
    svg: str
    figures: str
    why: tuple[str, ...]


@dataclass(frozen=True)
class SiteRows:
    """Sites one below the other."""

    items: tuple[SiteRow, ...]


@dataclass(frozen=True)
class Closed:
    """A table that opens under its summary."""

    summary: str
    table: Table


def words(sentences: Iterable[str], manner: str = "") -> tuple[Words, ...]:
    """A paragraph for each sentence; an empty one is left out."""
    return tuple(Words(text, manner) for text in sentences if text)


def in_words(value: Any, form: Form) -> str:
    """A value in a form; what is text already stays.

    >>> in_words(-2.26, ".1f"), in_words(0.5, lambda share: f"{share:.0%}"), in_words("none", ".1f")
    ('−2.3', '50%', 'none')
    """
    return value if isinstance(value, str) else form(value) if callable(form) else figure(value, form)


def tabled(first: str, names: Iterable[str], *columns: tuple[str, Iterable[Any], Form]) -> Table:
    """A table from its columns: heading, values and their form.

    >>> tabled("Day", ("Mon", "Tue"), ("Ran, h", (1.0, 2.5), ".1f")).rows
    (('Mon', '1.0'), ('Tue', '2.5'))
    """
    cells = ([in_words(value, form) for value in values] for _, values, form in columns)
    return Table((first, *(heading for heading, *_ in columns)), tuple(zip(names, *cells, strict=True)))


def column(name: str, unit: str, values: Iterable[Any], form: str) -> tuple[str, Iterable[str], Form]:
    """A column of SI figures as they are read now, with the unit in its heading.

    >>> column("Flow", "lph", (20.0,), ".0f")[:2]
    ('Flow, l/h', ('20',))
    """
    return f"{name}, {sign(unit)}", tuple(Quantity(float(value), unit, form).bare for value in values), form


def by_month(*columns: tuple[str, Iterable[Any], Form]) -> Table:
    """The same with a row for each month."""
    return tabled("Month", MONTHS, *columns)


def across_months(first: str, names: Iterable[str], values: Any, form: Form) -> Table:
    """A row for each name with a column for each month, of values (names, 12)."""
    return tabled(first, names, *((month, values[:, k], form) for k, month in enumerate(MONTHS)))
