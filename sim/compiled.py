"""The switch between compiled and interpreted scalar physics, and the compiler's on-disk cache.

The compiler's cache does not notice an edit in a helper that a cached kernel calls, so the cache folder is keyed by a
hash of this package's sources. ``SUNRILL_INTERPRETED=1`` runs the very same functions as plain Python.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import stat
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

INTERPRETED = os.environ.get("SUNRILL_INTERPRETED") == "1"
COMPILED_ROOMS = ("plant", "devices", "light")  # whole rooms: a new helper in them cannot be forgotten

_OWN_MODE = 0o700
_OTHERS_WRITE = stat.S_IWGRP | stat.S_IWOTH
# What comes of reading a file of compiled code that is empty, cut off or of another time:
BROKEN = (OSError, EOFError, pickle.PickleError, ValueError, TypeError, LookupError, AttributeError, ImportError)


def source_key(house: Path = Path(__file__).parent) -> str:
    """A hash of every source of the house that may end up in compiled code."""
    digest = hashlib.sha256()
    sources = [path for name in COMPILED_ROOMS for path in sorted((house / name).rglob("*.py"))]
    for path in (house / "compiled.py", *sources):
        digest.update(path.relative_to(house).as_posix().encode() + path.read_bytes())
    return digest.hexdigest()[:16]


def cache_folder() -> Path | None:
    """Where compiled code is kept: in the user's cache folder, or nowhere if that cannot be the user's alone.

    Who can write there can have code run as the user, so it is never a place that others share.
    """
    try:
        home = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
        home.mkdir(parents=True, exist_ok=True)
        folder = home / "sunrill" / f"compiled-{source_key()}"
        safe = _kept_from_others(home) and _own(folder.parent) and _own(folder) and os.access(folder, os.W_OK | os.X_OK)
    except (OSError, RuntimeError):  # a user without a home, or one that cannot be written to
        return None
    return folder if safe else None


def _kept_from_others(folder: Path) -> bool:
    """Whether nobody else can put another folder in the place of one inside."""
    mode = folder.stat().st_mode
    return not mode & _OTHERS_WRITE or bool(mode & stat.S_ISVTX)


def _own(folder: Path) -> bool:
    """Make a folder for the user alone; whether it is one, and nobody else could ever write into it."""
    folder.mkdir(mode=_OWN_MODE, exist_ok=True)
    found = folder.lstat()
    if not stat.S_ISDIR(found.st_mode) or found.st_mode & _OTHERS_WRITE or found.st_uid != _user():
        return False
    folder.chmod(_OWN_MODE)
    return True


def _user() -> int:
    """The user that this process acts for; systems without them call everybody 0."""
    return os.geteuid() if hasattr(os, "geteuid") else 0


if INTERPRETED:

    def compiled(function: Callable[..., Any]) -> Callable[..., Any]:
        """Leave the function as it is."""
        return function

    fused = compiled

    def entry(function: Callable[..., Any], *examples: Any) -> Callable[..., Any]:
        """The function itself."""
        return function

else:
    import numba
    import numpy as np
    from numba.core.caching import FunctionCache
    from numba.core.runtime.nrt import rtsys

    FOLDER = cache_folder()
    if FOLDER:
        numba.config.CACHE_DIR = str(FOLDER)  # type: ignore[attr-defined]
    ENTRIES: dict[Any, Callable[..., Any]] = {}  # machine code that was asked for, by function and kinds of arguments
    # What rounding may do: a product and a sum at once, a division as a product, and nothing without its sign.
    _rounding = {"contract", "arcp", "nsz"}
    _options: dict[str, Any] = {"nogil": True, "error_model": "numpy", "fastmath": _rounding}

    class Kept(FunctionCache):
        """The compiler's files of a function; broken ones are emptied, and what cannot be kept is not."""

        def load_overload(self, sig: Any, target_context: Any) -> Any:
            """The code for these types, or None.

            Loading needs the runtime alone: what a compilation would know, it looks up by itself, and that takes longer
            than a year of hours.
            """
            try:
                rtsys.initialize(target_context)
                with self._guard_against_spurious_io_errors():
                    return self._load_overload(sig, target_context)  # type: ignore[no-untyped-call]
            except BROKEN:
                with suppress(OSError):
                    self.flush()  # type: ignore[no-untyped-call]
                return None

        def save_overload(self, sig: Any, data: Any) -> None:
            """Keep the code for these types, if there is room for it."""
            with suppress(*BROKEN):
                super().save_overload(sig, data)  # type: ignore[no-untyped-call]

    def _kept(function: Callable[..., Any]) -> Callable[..., Any]:
        """Keep the code on disk, if there is a folder for it."""
        if FOLDER:
            function._cache = Kept(function.py_func)  # type: ignore[attr-defined, no-untyped-call]
        return function

    def compiled(function: Callable[..., Any]) -> Callable[..., Any]:
        """Compile a scalar function to machine code that releases the interpreter lock, and keep the code on disk."""
        return _kept(numba.njit(**_options)(function))

    def fused(function: Callable[..., Any]) -> Callable[..., Any]:
        """The same, and melt it into its callers.

        For what takes or returns a circuit or more and has one caller or two: handing over some forty figures one by
        one takes as long as working them out.
        """
        return _kept(numba.njit(forceinline=True, **_options)(function))

    def entry(function: Callable[..., Any], *examples: Any) -> Callable[..., Any]:
        """Machine code for arguments of just these types, without the look-up of types that every call would cost."""
        key = (function, *map(_kind, examples))
        if key not in ENTRIES:
            types = tuple(numba.typeof(example) for example in examples)  # type: ignore[no-untyped-call]
            function.compile(types)  # type: ignore[attr-defined]
            ENTRIES[key] = function.overloads[types].entry_point  # type: ignore[attr-defined]
        return ENTRIES[key]

    def _kind(example: Any) -> Any:
        """What the compiler tells apart: looking up its own types of a table takes as long as some days of a lane."""
        if isinstance(example, tuple):
            return type(example), *map(_kind, example)
        if not isinstance(example, np.ndarray):
            return type(example)
        flags = example.flags
        return example.dtype, example.ndim, flags.c_contiguous, flags.f_contiguous, flags.aligned, flags.writeable
