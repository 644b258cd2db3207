"""Work that is handed out comes back whole, whoever does it, and whatever becomes of them."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from kit.handed import Square

from sim.errors import InputError
from sim.hands import ALONE, THREADS, Hands, Lost, Processes, Threads, dealt, gathered, in_order, now, working


@pytest.mark.parametrize("hands", [ALONE, THREADS, Threads(7)])
def test_results_come_back_in_their_order(hands: Hands, tmp_path: Path) -> None:
    """Whoever squares them; and what they tell of adds up."""
    heard: list[int] = []
    assert in_order(hands, Square(tmp_path), range(50), heard.append) == [k * k for k in range(50)]
    assert sum(heard) == sum(range(50))


def test_nothing_comes_of_nothing() -> None:
    """No items, no results."""
    assert in_order(THREADS, Square(Path()), []) == [] and dealt(0, 5) == [] and gathered([], []) == []


def test_items_are_taken_as_they_are_needed(tmp_path: Path) -> None:
    """However many there are: a few more than there are hands."""
    taken: list[int] = []

    def items() -> Iterator[int]:
        for number in range(1000):
            taken.append(number)
            yield number

    results = Threads(2).each(Square(tmp_path), items())
    next(results)
    assert len(taken) <= 8
    results.close()  # type: ignore[attr-defined]


def test_an_error_is_raised_and_the_rest_is_dropped(tmp_path: Path) -> None:
    """A piece that raises ends the whole, and what had not begun never begins."""
    with pytest.raises(ValueError, match="3"):
        in_order(Threads(1), Square(tmp_path, error=3, slow_s=0.01), range(200))
    assert len(list(tmp_path.iterdir())) < 20


def test_who_works_holds_within_the_context_only() -> None:
    """And another thread has its own."""
    seen: list[Hands] = []
    with working(ALONE):
        thread = threading.Thread(target=lambda: seen.append(now()))
        thread.start()
        thread.join()
        assert now() is ALONE
    assert seen == [THREADS] and now() is THREADS


def test_who_is_killed_is_replaced_and_what_kills_is_named(tmp_path: Path) -> None:
    """A process that is killed costs nothing; an item that kills its process, also alone, is lost and stops nobody."""
    work = Square(tmp_path, deadly=4, once=2)
    found = dict(Processes(2).each(work, range(8), name=lambda number: f"site {number}"))
    assert found == {k: k * k for k in range(8)} | {4: Lost("site 4")}
    with pytest.raises(InputError, match="site 4: allowed is work that those who do it survive"):
        raise found[4].error()


def test_a_reader_who_stops_ends_the_processes(tmp_path: Path) -> None:
    """An interruption does not wait for what is under way."""
    results = Processes(1).each(Square(tmp_path, slow_s=0.0), range(1000))
    next(results)
    begun = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        results.throw(KeyboardInterrupt)  # type: ignore[attr-defined]
    assert time.monotonic() - begun < 5.0 and len(list(tmp_path.iterdir())) < 100
