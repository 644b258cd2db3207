"""Page data into HTML: the only place that knows the templates."""

import re
from functools import cache, partial
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from sim.language import ENGLISH, Language, say, speaking
from sim.report.page import page_of
from sim.report.section import Page, Section
from sim.studies.result import YearResult
from sim.units import Quantity, in_units, told
from sim.words import CONTROLS

OBEYED = {number: space for number, space in CONTROLS.items() if chr(number) not in "\n\t\r"}
_OBEYED_IN = re.compile(f"[{re.escape(''.join(map(chr, OBEYED)))}]")  # to look is quick, to translate is not
ALWAYS_WORN = ("@", "}", "h1")  # beginnings of rules: a title must change nothing but itself
STYLE_HERE = "<style>\n"  # which no text of a user's can be, as they are escaped
_NAME = re.compile(r"(?:--)?[A-Za-z][\w-]*")
_HEADING = re.compile(r"var\((--h\d+)\)")  # of a table's column, which the table itself brings along
# Where names stand that a rule may be for:
_DRESSED = re.compile(r'(?:class|id)="[^"]*"|<script>.*?</script>|<[a-z][a-z0-9]*|--h\d+:', re.DOTALL)
_INSIDE = re.compile(r"\([^()]*\)")
_ASIDE = re.compile(r"\[[^\]]*\]|::?[\w-]+")  # in a selector: attributes, states and parts, whatever they are of
_EMPTY = re.compile(r"@media[^{}]*\{\n\}\n|/\*.*?\*/\n|^\n", re.MULTILINE)
LONGEST_FOOT = 90  # signs of a title at the foot of a printed page


def year_report(result: YearResult) -> str:
    """The report of a simulated year as one self-contained HTML page; the same year gives the same text."""
    with in_units(result.scenario.report.units):
        return render(page_of(result))


def client_report(result: YearResult) -> str:
    """The client's page alone, as a page of its own."""
    with in_units(result.scenario.report.units):
        return render(page_of(result, ()))


def render(page: Page) -> str:
    """The HTML of a page. Everything is escaped but the style sheet and what goes through the filter ``drawn``.

    These are charts, which hold no text of a user's, and what a section embeds for its script. Sentences that know
    their figures are told in the units of now.
    """
    style = files("sim.report").joinpath("style.css").read_text(encoding="utf-8")
    with speaking(page.language):
        html = _rooms().get_template("base.html.j2").render(page=page)
    html = html.replace(STYLE_HERE, STYLE_HERE + worn(style, html), 1)
    return html.translate(OBEYED) if _OBEYED_IN.search(html) else html


def worn(style: str, html: str) -> str:
    r"""A style sheet of one rule a line, of which nothing is left that no element, class or id of the page wears.

    >>> worn("p{margin:0}\n.facts p,.sites p:not(.last){margin:1rem}\n#sheet p{padding:0}\n", '<p class="sites">')
    'p{margin:0}\n.sites p:not(.last){margin:1rem}\n'
    """
    names = set(_NAME.findall(" ".join(set(_DRESSED.findall(html)))))
    rules = (_left_of(rule, names) for rule in style.splitlines(keepends=True))
    return _EMPTY.sub("", "".join(rules))


def _left_of(rule: str, names: set[str]) -> str:
    """A rule with those of its selectors whose names are all there, or nothing."""
    listed, brace, body = rule.partition("{")
    if not brace or rule.startswith(ALWAYS_WORN):
        return rule
    if not names.issuperset(_HEADING.findall(body)):
        return ""
    selectors = [one for one in _selectors(listed) if names.issuperset(_named(one))]
    return f"{','.join(selectors)}{{{body}" if selectors else ""


@cache
def _selectors(listed: str) -> list[str]:
    """The selectors of a list, whose commas may also stand inside brackets."""
    return re.split(r",(?![^()]*\))", listed)


@cache
def _named(selector: str) -> frozenset[str]:
    """The elements, classes and ids that a selector asks for."""
    plain = _ASIDE.sub("", _INSIDE.sub("", _INSIDE.sub("", selector)))
    return frozenset(_NAME.findall(plain))


@cache
def _rooms() -> Environment:
    """The templates, each read and compiled once: nothing in them is known before a page is."""
    rooms = Environment(
        loader=PackageLoader("sim.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=told,
    )
    rooms.globals["quantity"] = Quantity
    rooms.filters |= {"drawn": Markup, "css": css_text, "kind": lambda block: type(block).__name__.lower()}
    rooms.filters |= {"placed": partial(_placed, rooms), "other_than": _lang, "english": _english}
    rooms.globals["say"] = lambda text, **parts: Markup(say(text, **parts))  # ours: no sign has to be escaped
    return rooms


def _placed(rooms: Environment, section: Section) -> Markup:
    """A section's part by its template, in its own language."""
    with speaking(section.language):
        return Markup(rooms.get_template(f"{section.template}.html.j2").render(part=section.part))


def _english(text: str) -> str:
    """What is not translated, its figures as English writes them."""
    with speaking(ENGLISH):
        return str(told(text))


def _lang(language: Language, page: Page) -> Markup:
    """The attribute of a piece that is not in its page's language."""
    return Markup("" if language == page.language else f' lang="{language}"')


def css_text(words: str) -> str:
    r"""Words within a style sheet's quotes: all but plain letters and digits by their numbers; a long text is cut.

    >>> css_text('A"</style>')
    'A\\22 \\3c \\2f style\\3e '
    """
    shown = words if len(words) <= LONGEST_FOOT else f"{words[:LONGEST_FOOT]}…"
    return "".join(sign if sign.isascii() and sign.isalnum() else f"\\{ord(sign):x} " for sign in shown)
