"""Handing work out: to the threads of this program, to processes of this computer, or (``cluster``) to many computers.

A piece of work is called with an item and with ``told(more)``, which hears how much of it is done, and returns what it
made. What comes back does not depend on who did it. Pieces that leave this process are pickled, and so are their items.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing, contextmanager, suppress
from contextvars import ContextVar
from dataclasses import dataclass, field
from itertools import islice
from queue import Empty, SimpleQueue
from typing import Any, Protocol, runtime_checkable

from sim.errors import InputError

Told = Callable[[int], None]
Work = Callable[[Any, Told], Any]
AHEAD = 2  # items that wait for each hand while it works
LOOK_S = 0.5  # from one look at those who work to the next, while nothing comes


def nobody(more: int) -> None:
    """Hears of work that is done, and tells nobody."""


def cores() -> int:
    """How many cores this process may use."""
    with suppress(AttributeError):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@dataclass(frozen=True)
class Lost:
    """What stands in the place of a result: whoever worked on the item was killed, also when it was alone with it."""

    name: str

    def error(self) -> InputError:
        """It as a message."""
        allowed = "work that those who do it survive; it was killed each time, out of memory perhaps"
        return InputError(self.name, "", None, allowed)


@runtime_checkable
class Hands(Protocol):
    """Who does the work: as many as ``width`` at a time. ``here`` are the hands of this process."""

    @property
    def width(self) -> int:
        """How many pieces are worked on at a time."""

    @property
    def here(self) -> Hands:
        """Those that need no pickle."""

    def each(
        self, work: Work, items: Iterable[Any], told: Told = nobody, name: Callable[[Any], str] = str
    ) -> Iterator[tuple[int, Any]]:
        """The number of each item with what was made of it, or :class:`Lost`, as they are done."""


def in_order(
    hands: Hands, work: Work, items: Iterable[Any], told: Told = nobody, name: Callable[[Any], str] = str
) -> list[Any]:
    """What was made of each of the items, in their order; InputError if one could not be done.

    >>> in_order(THREADS, lambda item, told: item * item, range(5))
    [0, 1, 4, 9, 16]
    """
    found = dict(sure(hands.each(work, items, told, name)))
    return [found[number] for number in range(len(found))]


def sure(results: Iterable[tuple[int, Any]]) -> Iterator[tuple[int, Any]]:
    """Results as they are done; InputError at one that is lost."""
    for number, made in results:
        if isinstance(made, Lost):
            raise made.error()
        yield number, made


@dataclass(frozen=True)
class Alone:
    """Nobody else: one piece after the other, where the work itself is a piece of other work."""

    width: int = 1

    @property
    def here(self) -> Hands:
        """Itself."""
        return self

    def each(
        self, work: Work, items: Iterable[Any], told: Told = nobody, name: Callable[[Any], str] = str
    ) -> Iterator[tuple[int, Any]]:
        """As :class:`Hands` have it."""
        for number, item in enumerate(items):
            yield number, work(item, told)


@dataclass(frozen=True)
class OfCores:
    """As many as there are cores, or ``most``."""

    most: int | None = None

    @property
    def width(self) -> int:
        """One for each core."""
        return self.most or cores()


@dataclass(frozen=True)
class Threads(OfCores):
    """Threads of this process: good where the work releases the interpreter lock, as the kernel does."""

    @property
    def here(self) -> Hands:
        """Itself."""
        return self

    def each(
        self, work: Work, items: Iterable[Any], told: Told = nobody, name: Callable[[Any], str] = str
    ) -> Iterator[tuple[int, Any]]:
        """As :class:`Hands` have it."""
        with ThreadPoolExecutor(self.width) as pool, closing(self._flow(pool, work, items, told)) as results:
            yield from ((number, future.result()) for number, _, future in results)

    def _flow(self, pool: ThreadPoolExecutor, work: Work, items: Iterable[Any], told: Told) -> Any:
        return flow(lambda item: pool.submit(work, item, told), items, self.width * AHEAD)


THREADS, ALONE = Threads(), Alone()
_NOW: ContextVar[Hands] = ContextVar("hands", default=THREADS)


def now() -> Hands:
    """Whom work is handed to now."""
    return _NOW.get()


@contextmanager
def working(hands: Hands) -> Iterator[Hands]:
    """A context in which work is handed to others."""
    token = _NOW.set(hands)
    try:
        yield hands
    finally:
        _NOW.reset(token)


def flow(
    submit: Callable[[Any], Any], items: Iterable[Any], most: int, watch: Callable[[], None] = lambda: None
) -> Generator[tuple[int, Any, Any], None, None]:
    """Number, item and future of each item as it is done, with ``most`` of them on their way.

    ``submit(item)`` returns a future; ``watch()`` is called now and then while nothing comes, and may raise. When the
    reader stops, what has not begun is cancelled.
    """
    done: SimpleQueue[int] = SimpleQueue()
    waiting, under_way = enumerate(items), {}

    def send(count: int) -> None:
        for number, item in islice(waiting, count):
            under_way[number] = item, (future := submit(item))
            future.add_done_callback(lambda _, number=number: done.put(number))

    try:
        send(most)
        while under_way:
            number = _next(done, watch)
            send(1)
            yield number, *under_way.pop(number)
    finally:
        for _, future in under_way.values():
            future.cancel()


def _next(done: SimpleQueue[int], watch: Callable[[], None]) -> int:
    while True:
        try:
            return done.get(timeout=LOOK_S)
        except Empty:
            watch()


# --- processes ------------------------------------------------------------------------------------------------------


@dataclass
class Heard:
    """Adds up what a piece of work tells where nobody can hear it."""

    parts: list[int] = field(default_factory=list)

    def __call__(self, more: int) -> None:
        """Hear of more."""
        self.parts.append(more)


def done_alone(work: Work, item: Any) -> tuple[Any, int]:
    """What a piece of work made of an item in a process of others, and how much it told of."""
    heard = Heard()
    with working(ALONE):
        return work(item, heard), sum(heard.parts)


_WORK: list[Work] = []  # of a process: what it is there for


def _begin(work: Work) -> None:
    """A process begins: it leaves the keyboard to the one that started it, and ends with it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _WORK[:] = [work]
    parent = multiprocessing.parent_process()
    if parent:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: Any) -> None:
    parent.join()
    os._exit(1)


def _one(item: Any) -> tuple[Any, int]:
    return done_alone(_WORK[0], item)


@dataclass(frozen=True)
class Processes(OfCores):
    """Processes of this computer: for work that keeps the interpreter lock, as drawing does.

    If one is killed, the items that were under way are done again, each alone; whoever is killed again is lost.
    """

    @property
    def here(self) -> Hands:
        """Threads need no pickle."""
        return THREADS

    def each(
        self, work: Work, items: Iterable[Any], told: Told = nobody, name: Callable[[Any], str] = str
    ) -> Iterator[tuple[int, Any]]:
        """As :class:`Hands` have it."""
        handed = Handed(lambda: self._crew(work), told, name)
        yield from handed.through(items, self.width + 1)

    @contextmanager
    def _crew(self, work: Work) -> Iterator[Callable[[Any], Any]]:
        """What hands an item to a process; when the context ends they do, at once where it was broken off."""
        before, pools = set(multiprocessing.active_children()), [self._pool(work)]

        def hand_over(item: Any) -> Any:
            try:
                return pools[-1].submit(_one, item)
            except BrokenProcessPool:
                pools.append(self._pool(work))
                return pools[-1].submit(_one, item)

        try:
            yield hand_over
        except BaseException:
            for child in set(multiprocessing.active_children()) - before:
                child.terminate()
            raise
        finally:
            for pool in pools:
                pool.shutdown(cancel_futures=True)

    def _pool(self, work: Work) -> ProcessPoolExecutor:
        return ProcessPoolExecutor(self.width, multiprocessing.get_context("spawn"), _begin, (work,))


@dataclass(frozen=True)
class Handed:
    """Items on their way through others that may be killed; ``crew()`` is a context with what hands an item over."""

    crew: Callable[[], Any]
    told: Told
    name: Callable[[Any], str]
    killed: type[BaseException] = BrokenProcessPool
    watch: Callable[[], None] = lambda: None

    def through(self, items: Iterable[Any], most: int) -> Iterator[tuple[int, Any]]:
        """Numbers and results as they are done; then, each by itself, those with which somebody was killed."""
        suspects = []
        with self.crew() as hand_over:
            for number, item, made in self._results(hand_over, items, most):
                if isinstance(made, Lost):
                    suspects.append((number, item))
                else:
                    yield number, made
            for number, item in suspects:
                yield from ((number, made) for *_, made in self._results(hand_over, [item], 1))

    def _results(
        self, hand_over: Callable[[Any], Any], items: Iterable[Any], most: int
    ) -> Iterator[tuple[int, Any, Any]]:
        """Number and item with what was made of it, or Lost."""
        with closing(flow(hand_over, items, most, self.watch)) as results:
            for number, item, future in results:
                try:
                    made, more = future.result()
                except self.killed:
                    made, more = Lost(self.name(item)), 0
                self.told(more)
                yield number, item, made


def dealt(count: int, at_once: int) -> list[Sequence[int]]:
    """Numbers dealt out like cards to hands of at most so many.

    >>> [list(hand) for hand in dealt(5, 2)]
    [[0, 3], [1, 4], [2]]
    """
    hands = -(-count // at_once)
    return [range(start, count, hands) for start in range(hands)]


def gathered(dealt: Sequence[Sequence[int]], parts: Sequence[Sequence[Any]]) -> list[Any]:
    """What came of numbers that were dealt out, in their order.

    >>> gathered(dealt(5, 2), ["ad", "be", "c"])
    ['a', 'b', 'c', 'd', 'e']
    """
    numbers = [number for hand in dealt for number in hand]
    found = dict(zip(numbers, (it for part in parts for it in part), strict=True))
    return [found[number] for number in range(len(numbers))]
