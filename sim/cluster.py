"""Work for a cluster of Dask's: many computers, or some processes of this one (``local:2``).

What tasks share is a task of its own, so that it travels once to each worker and is made again where those who held it
are lost. Everything else about lost workers is the scheduler's work.
"""

from __future__ import annotations

import asyncio
import hashlib
import logging
import pickle
import re
import socket
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import CancelledError
from contextlib import contextmanager, nullcontext, suppress
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.metadata import PackageNotFoundError
from importlib.metadata import version as version_of
from itertools import count
from pathlib import Path
from typing import Any
from weakref import WeakSet

from sim import hands
from sim.errors import InputError

EXTRA = "sunrill[cluster]"
SAYS, KEY = "sunrill", "--scheduler"
LOCAL = "local:"
MOST_LOCAL = 256  # processes
ADDRESS = re.compile(r"(tcp|tls)://\[?(?P<host>[\w.:-]+?)\]?:(?P<port>\d{1,5})")
PATIENCE_S = 5.0  # until an address that does not answer is given up, or a scheduler that has gone
ALONE_S = 60.0  # until a scheduler without a worker is given up
WORKERS_S = 10.0  # from one look for workers to the next
LONGEST_NAME = 80  # signs of a task's name
PIECE = "piece"  # how tasks' names begin, so that the scheduler sees that they are alike and deals them out evenly
AHEAD = 3  # tasks on their way for each thread of a worker
SHARED_AT_ONCE = 4  # pieces of work that a worker keeps
SETTINGS = {
    "distributed.comm.timeouts.connect": f"{PATIENCE_S:g}s",
    "distributed.comm.retry.count": 0,
    "distributed.scheduler.allowed-failures": 2,
    "distributed.admin.large-graph-warning-threshold": "1GB",
    "distributed.worker.daemon": True,
}
NO_SCHEDULER = (OSError, ValueError, TypeError, LookupError, MemoryError, TimeoutError)  # of what else may answer
LIBRARIES = ("sunrill", "numpy", "scipy", "pandas", "pvlib", "numba")  # on which the last digit may hang


@cache
def mark() -> tuple[str, ...]:
    """Which version this is, by the sources themselves, and of what it makes use: equal ones give equal results."""
    digest, house = hashlib.sha256(), Path(__file__).parent
    for path in sorted(house.rglob("*.py")):
        digest.update(path.relative_to(house).as_posix().encode() + b"\0" + path.read_bytes())
    python = f"python {sys.version_info.major}.{sys.version_info.minor}"
    return f"sources {digest.hexdigest()[:12]}", python, *(f"{name} {_version(name)}" for name in LIBRARIES)


def _version(name: str) -> str:
    try:
        return version_of(name)
    except PackageNotFoundError:
        return "none"


@contextmanager
def handed_to(scheduler: str | None) -> Iterator[hands.Hands]:
    """A context in which work goes to a scheduler's workers, or stays where it is handed to now where none is named.

    Raises InputError where the cluster cannot be used: it is not installed, does not answer or is of another version.
    """
    with nullcontext(hands.now()) if scheduler is None else _cluster(scheduler) as who, hands.working(who):
        yield who


@contextmanager
def _cluster(address: str) -> Iterator[Dask]:
    """A cluster at an address, or one that is there only as long as the context."""
    count = _local(address)
    try:
        import dask
        import distributed  # noqa: F401 - it must be there too
    except ImportError:
        raise InputError(SAYS, KEY, address, f"a program with Dask: pip install '{EXTRA}'") from None
    with (
        dask.config.set(SETTINGS),
        _quiet(),
        _place(address, count) as place,
        _client(address, place) as one,
    ):
        yield Dask(address, _checked(address, one))


@contextmanager
def _quiet() -> Iterator[None]:
    """A context in which what a library logs about lost connections is not told beside the one message."""
    before = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    try:
        yield
    finally:
        logging.disable(before)


def _local(address: str) -> int:
    """How many processes of this computer an address asks for; 0 where it is another's."""
    if not address.startswith(LOCAL):
        return 0
    asked = address.removeprefix(LOCAL)
    if not (asked.isdecimal() and 1 <= int(asked) <= MOST_LOCAL):
        raise InputError(
            KEY, "", address, f"{LOCAL}N with N from 1 to {MOST_LOCAL}, or the address of a scheduler, tcp://…"
        )
    return int(asked)


@contextmanager
def _place(address: str, count: int) -> Iterator[Any]:
    """What a client connects to."""
    if not count:
        yield address
        return
    from distributed import LocalCluster

    with LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=count, threads_per_worker=1, processes=True, dashboard_address=":0", silence_logs=logging.CRITICAL
    ) as cluster:
        yield cluster


@contextmanager
def _client(address: str, place: Any) -> Iterator[Any]:
    """A connection; InputError where there is none."""
    from distributed import Client

    if place is address:
        _check_there(address)
    try:
        client = Client(place, timeout=PATIENCE_S, set_as_default=False)  # type: ignore[no-untyped-call]
    except NO_SCHEDULER as reason:
        raise InputError(SAYS, KEY, address, f"the address of a scheduler that answers ({_short(reason)})") from None
    try:
        yield client
    finally:
        with suppress(OSError, TimeoutError, CancelledError):
            client.close(timeout=PATIENCE_S)  # type: ignore[no-untyped-call]


def _check_there(address: str) -> None:
    """Raise InputError, soon, where an address is none or nobody listens; looking up a name may take for ever."""
    found = ADDRESS.fullmatch(address)
    if not found:
        raise InputError(SAYS, KEY, address, f"{LOCAL}N, or the address of a scheduler such as tcp://192.168.1.7:8786")
    tried: list[OSError | None] = []
    thread = threading.Thread(target=_try, args=((found["host"], int(found["port"])), tried), daemon=True)
    thread.start()
    thread.join(PATIENCE_S)
    if tried != [None]:
        said = _short(tried[0]) if tried else f"nothing for {PATIENCE_S:g} s"
        raise InputError(SAYS, KEY, address, f"the address of a scheduler that answers ({said})")
    told = asyncio.run(_answer(address))
    if not (isinstance(told, dict) and told.get("type") == "Scheduler"):
        said = "what is there answers otherwise, or not at all"
        raise InputError(SAYS, KEY, address, f"the address of a scheduler that answers ({said})")


async def _answer(address: str) -> Any:
    """What listens there says of itself, or the error that its answer leads to, whatever that is."""
    asked = asyncio.wait_for(_identity(address), PATIENCE_S)
    told: Any = await asyncio.gather(asked, return_exceptions=True)
    return told[0]


async def _identity(address: str) -> Any:
    from distributed.comm.core import connect
    from distributed.core import send_recv
    from distributed.security import Security

    tls = Security().get_connection_args("client")  # type: ignore[no-untyped-call]
    comm = await connect(address, timeout=PATIENCE_S, **tls)  # type: ignore[no-untyped-call]
    try:
        return await send_recv(comm, op="identity")
    finally:
        comm.abort()


def _try(at: tuple[str, int], tried: list[OSError | None]) -> None:
    try:
        socket.create_connection(at, PATIENCE_S).close()
        tried.append(None)
    except (OSError, OverflowError, UnicodeError) as reason:
        tried.append(OSError(str(reason)))


def _checked(address: str, client: Any) -> Any:
    """A client whose workers are all of this version; InputError otherwise, or where there are none."""
    try:
        client.wait_for_workers(1, timeout=PATIENCE_S)
    except (TimeoutError, OSError):
        raise InputError(SAYS, KEY, address, "a scheduler that has workers; it has none") from None
    for worker, theirs in _theirs(client).items():
        if theirs != mark():
            raise _other(address, worker, theirs)
    return client


def _theirs(client: Any) -> dict[str, Any]:
    """The mark of each worker, or why it has none."""
    return dict(client.run(mark, on_error="return"))


def _other(address: str, worker: str, theirs: Any) -> InputError:
    """The message about a worker of another version."""
    if not isinstance(theirs, tuple):
        return InputError(SAYS, KEY, address, f"workers with this sunrill; {worker} has none ({_short(theirs)})")
    differ = [f"{its}, here {mine}" for its, mine in zip(theirs, mark(), strict=False) if its != mine]
    return InputError(SAYS, KEY, address, f"workers of this very version; {worker} has {'; '.join(differ)}")


def _short(reason: Any) -> str:
    return str(reason).split("\n")[0][:120]


# --- on a worker ----------------------------------------------------------------------------------------------------


class Other(Exception):  # noqa: N818 - it is told as an InputError
    """A worker that came later is of another version."""


def kept(shared: bytes) -> bytes:
    """What tasks share, as a task."""
    return shared


@lru_cache(SHARED_AT_ONCE)
def _opened(shared: bytes) -> hands.Work:
    work: hands.Work = pickle.loads(shared)
    return work


def done(shared: bytes, item: bytes, asked: tuple[str, ...]) -> tuple[Any, int]:
    """What a worker made of an item, and how much it told of; nothing is opened by another version."""
    if asked != mark():
        from distributed import get_worker

        raise Other(get_worker().address, mark())
    return hands.done_alone(_opened(shared), pickle.loads(item))


# --- here -----------------------------------------------------------------------------------------------------------

_NUMBERS = count()


@dataclass(frozen=True)
class Dask:
    """The workers of a scheduler."""

    address: str
    client: Any

    @property
    def width(self) -> int:
        """One for each thread of a worker."""
        return int(max(sum(self.client.nthreads().values()), 1))

    @property
    def here(self) -> hands.Hands:
        """Threads of this process."""
        return hands.THREADS

    def each(
        self, work: hands.Work, items: Iterable[Any], told: hands.Told = hands.nobody, name: Callable[[Any], str] = str
    ) -> Iterator[tuple[int, Any]]:
        """As :class:`hands.Hands` have it."""
        from distributed import KilledWorker

        handed = hands.Handed(lambda: self._crew(work, name), told, name, KilledWorker, self._watch())
        try:
            yield from handed.through(items, self.width * AHEAD)
        except Other as late:
            raise _other(self.address, *late.args) from None
        except CancelledError:
            raise self._gone() from None

    def _gone(self) -> InputError:
        return InputError(SAYS, KEY, self.address, "a scheduler that stays; the connection to it was lost")

    @contextmanager
    def _crew(self, work: hands.Work, name: Callable[[Any], str]) -> Iterator[Callable[[Any], Any]]:
        """What hands an item to the workers; at the end nothing of it is left there."""
        blob, run = pickle.dumps(work, pickle.HIGHEST_PROTOCOL), f"{time.time_ns():x}-{next(_NUMBERS)}"
        shared = self.client.submit(kept, blob, key=f"shared-{run}")
        sent: WeakSet[Any] = WeakSet()
        numbers = count()

        def hand_over(item: Any) -> Any:
            packed = pickle.dumps(item, pickle.HIGHEST_PROTOCOL)
            key = f"{PIECE}-{run}-{next(numbers)} {name(item)[:LONGEST_NAME]}"
            future = self.client.submit(done, shared, packed, mark(), key=key, pure=False)
            sent.add(future)
            return future

        try:
            yield hand_over
        finally:
            with suppress(OSError, TimeoutError, CancelledError):
                self.client.cancel([*sent, shared])

    def _watch(self) -> Callable[[], None]:
        """What is asked now and then while nothing comes; it raises InputError when nothing will."""
        seen, asked = [time.monotonic()], [time.monotonic()]

        def look() -> None:
            if self.client.status not in ("running", "connecting"):
                raise self._gone()
            if time.monotonic() - asked[0] > WORKERS_S:
                asked[0] = time.monotonic()
                self._see_workers(seen)

        return look

    def _see_workers(self, seen: list[float]) -> None:
        """Note when there were workers, or raise InputError when there have been none for long."""
        with suppress(OSError, TimeoutError):
            if self.client.nthreads():
                seen[0] = time.monotonic()
        if time.monotonic() - seen[0] > ALONE_S:
            raise InputError(SAYS, KEY, self.address, f"a scheduler that has workers; none for {ALONE_S:g} s")
