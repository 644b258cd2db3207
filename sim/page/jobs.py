"""Work that takes its time: a few jobs at once, each with its progress, each to be stopped."""

import itertools
import threading
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from sim.errors import InputError
from sim.words import lasting

AT_ONCE, REMEMBERED = 2, 8
MAP = "map"


class StoppedError(Exception):
    """The owner stopped the work."""


@dataclass
class Job:
    """One piece of work on a scenario: what it is, how far it is, and what came of it."""

    number: int
    scenario: str
    what: str
    words: str
    command: str
    text: str  # of the scenario that it is about
    done: int = 0
    of: int = 0
    state: str = "running"
    said: str = ""
    reports: dict[str, str] = field(default_factory=dict)
    changes: dict[str, Any] = field(default_factory=dict)  # what it offers to change, by scenario keys
    offer: str = ""  # the words of that
    cells: list[Any] = field(default_factory=list)
    began_s: float = field(default_factory=time.monotonic)
    stop: threading.Event = field(default_factory=threading.Event)

    @property
    def left(self) -> str:
        """The time left, in words, from the time it took so far."""
        if not self.done or self.state != "running":
            return ""
        left_s = (time.monotonic() - self.began_s) * (self.of - self.done) / self.done
        return f"about {left_s:.0f} seconds left" if left_s < 100.0 else f"about {lasting(left_s / 3600.0)} left"

    def progress(self, done: int, of: int) -> None:
        """Hear how far it is; StoppedError where it was stopped."""
        self.done, self.of = max(done, self.done), of
        if self.stop.is_set():
            raise StoppedError


class Jobs:
    """The jobs of this run, the newest last; of those that ended the last few are remembered."""

    def __init__(self) -> None:
        self._jobs: dict[int, Job] = {}
        self._numbers = itertools.count(1)
        self._lock = threading.Lock()

    def of(self, scenario: str) -> tuple[Job, ...]:
        """The studies of a scenario, the newest first."""
        mine = [job for job in self._jobs.copy().values() if job.scenario == scenario and job.what != MAP]
        return tuple(reversed(mine))

    def map_of(self, scenario: str) -> Job | None:
        """The newest map of a scenario."""
        maps = [job for job in self._jobs.copy().values() if job.scenario == scenario and job.what == MAP]
        return maps[-1] if maps else None

    def numbered(self, number: int | None) -> Job | None:
        """A job by its number."""
        return None if number is None else self._jobs.get(number)

    def start(self, job: Callable[[int], Job], work: Callable[[Job], None]) -> Job:
        """Begin some work in a thread of its own; InputError where enough is going on already."""
        with self._lock:
            if sum(one.state == "running" for one in self._jobs.values()) >= AT_ONCE:
                allowed = f"{AT_ONCE} at once; wait for one of them, or stop it"
                raise InputError("the page", "study", None, allowed)
            made = job(next(self._numbers))
            self._forget()
            self._jobs[made.number] = made
        threading.Thread(target=_run, args=(made, work), daemon=True).start()
        return made

    def _forget(self) -> None:
        ended = [number for number, job in self._jobs.items() if job.state != "running"]
        for number in ended[: max(0, len(ended) - REMEMBERED + 1)]:
            del self._jobs[number]


def _run(job: Job, work: Callable[[Job], None]) -> None:
    """Do some work to its end, whatever that is; a defect stands in the log, and the page says so."""
    job.state, ended = "running", "failed"
    try:
        work(job)
        ended = "done"
    except StoppedError:
        ended = "stopped"
    except InputError as wrong:
        job.said = str(wrong)
    finally:
        if ended == "failed" and not job.said:
            job.said = "This is a defect of the program; the log has it."
        job.state = ended


def collected(job: Job, cells: Iterable[Any]) -> None:
    """Put cells into a job as they come."""
    for cell in cells:
        job.cells.append(cell)
