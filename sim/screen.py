"""How the console shows things: the screen itself, rows under headings, how far long work is."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager

from rich.console import Console
from rich.table import Table


class Screen(Console):
    """What standard output shows; a reader who has left is the command's matter."""

    def on_broken_pipe(self) -> None:
        """Called while the error is handled: let it out, where rich would end the program with exit code 1."""
        raise


def table(head: Sequence[str], rows: Iterable[Sequence[str]], title: str | None = None, apart: int = 2) -> Table:
    """Rows under their headings; a column without one holds names."""
    made = Table(title=title, title_justify="left", box=None, padding=(0, apart, 0, 0))
    for heading in head:
        made.add_column(heading, justify="right" if heading else "left")
    for row in rows:
        made.add_row(*row)
    return made


@contextmanager
def shown_progress(words: str) -> Iterator[Callable[[int, int], None]]:
    """A bar on standard error while long work goes on, told as (done, of); nothing where that is no terminal."""
    from rich.progress import Progress

    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task(words)
        yield lambda done, of: bar.update(task, completed=done, total=of)
