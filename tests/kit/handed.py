"""Pieces of work that are handed out in tests: they can be pickled, and some of them end who does them."""

from __future__ import annotations

import os
import signal
import time
from dataclasses import dataclass
from pathlib import Path

from sim.hands import Told


@dataclass(frozen=True)
class Square:
    """Squares a number; one number is never survived, another only the second time (``folder`` remembers)."""

    folder: Path
    deadly: int = -1
    once: int = -1
    slow_s: float = 0.0
    error: int = -1

    def __call__(self, number: int, told: Told) -> int:
        time.sleep(self.slow_s)
        if number == self.error:
            raise ValueError(number)
        mark = self.folder / f"begun-{number}"
        first = not mark.exists()
        mark.touch()
        if number == self.deadly or (number == self.once and first):
            os.kill(os.getpid(), signal.SIGKILL)
        told(number)
        return number * number


@dataclass(frozen=True)
class Grows:
    """Takes so many megabytes and keeps them while it sleeps."""

    megabytes: int

    def __call__(self, number: int, told: Told) -> int:
        held = [bytearray(os.urandom(1 << 10) * (1 << 10)) for _ in range(self.megabytes if number else 0)]
        time.sleep(2.0 if number else 0.0)
        return len(held)


@dataclass(frozen=True)
class Whose:
    """Says which of a cluster's workers does it, after a while."""

    slow_s: float

    def __call__(self, number: int, told: Told) -> str:
        from distributed import get_worker

        time.sleep(self.slow_s)
        return str(get_worker().address)
