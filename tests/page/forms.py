"""A page read as a browser without script reads it: the values that sending its form would send."""

from __future__ import annotations

from html.parser import HTMLParser


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.form = ""
        self.values: dict[str, str] = {}
        self.figures: dict[str, str] = {}
        self.select = ""
        self.options: list[tuple[str | None, bool]] = []
        self.text: list[str] | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = dict(attrs)
        if tag == "form":
            self.form = has.get("id") or "other"
        elif tag == "data" and has.get("data-figure"):
            self.figures[str(has["data-figure"])] = str(has["value"])
        elif self.form == "system" and tag == "input" and has.get("name"):
            self.values[str(has["name"])] = has.get("value") or ""
        elif self.form == "system" and tag == "select":
            self.select, self.options = str(has["name"]), []
        elif self.select and tag == "option":
            self.options.append((has.get("value"), "selected" in has))
            self.text = []

    def handle_data(self, data: str) -> None:
        if self.text is not None:
            self.text.append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.form = ""
        elif tag == "option" and self.text is not None:
            value, chosen = self.options[-1]
            self.options[-1] = ("".join(self.text) if value is None else value, chosen)
            self.text = None
        elif tag == "select" and self.select:
            chosen = [value for value, is_chosen in self.options if is_chosen] or [self.options[0][0]]
            self.values[self.select] = str(chosen[0])
            self.select = ""


def read(html: str) -> _Reader:
    """What a page's form would send, and its figures by their result keys."""
    reader = _Reader()
    reader.feed(html)
    return reader


def form_of(html: str) -> dict[str, str]:
    """The fields of the system's form, by name."""
    return read(html).values


def figures_of(html: str) -> dict[str, str]:
    """The exact figures that a page shows, by their result keys."""
    return read(html).figures
