"""The switch between compiled and interpreted scalar physics, and the compiler's on-disk cache.

The compiler's cache does not notice an edit in a helper that a cached kernel calls, so the cache folder is keyed by a
hash of this package's sources. ``SUNRILL_INTERPRETED=1`` runs the very same functions as plain Python.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

INTERPRETED = os.environ.get("SUNRILL_INTERPRETED") == "1"
COMPILED_ROOMS = ("plant", "devices", "light")  # whole rooms: a new helper in them cannot be forgotten


def source_key(house: Path = Path(__file__).parent) -> str:
    """A hash of every source of the house that may end up in compiled code."""
    digest = hashlib.sha256()
    sources = [path for name in COMPILED_ROOMS for path in sorted((house / name).rglob("*.py"))]
    for path in (house / "compiled.py", *sources):
        digest.update(path.relative_to(house).as_posix().encode() + path.read_bytes())
    return digest.hexdigest()[:16]


def cache_folder() -> Path:
    """Where compiled code is kept: the user's cache folder, or a temporary one where that cannot be written."""
    home = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    for root in (home, Path(tempfile.gettempdir())):
        folder = root / "sunrill" / f"compiled-{source_key()}"
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError:
            continue
        if os.access(folder, os.W_OK):
            return folder
    return Path(tempfile.mkdtemp(prefix="sunrill-"))


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

    numba.config.CACHE_DIR = str(cache_folder())  # type: ignore[attr-defined]
    _options: dict[str, Any] = {"cache": True, "nogil": True, "error_model": "numpy"}

    def compiled(function: Callable[..., Any]) -> Callable[..., Any]:
        """Compile a scalar function to machine code that releases the interpreter lock, and keep the code on disk."""
        return numba.njit(**_options)(function)  # type: ignore[no-any-return]

    def fused(function: Callable[..., Any]) -> Callable[..., Any]:
        """The same, and melt it into its callers: for the few functions that a step calls many times."""
        return numba.njit(forceinline=True, **_options)(function)  # type: ignore[no-any-return]

    def entry(function: Callable[..., Any], *examples: Any) -> Callable[..., Any]:
        """Machine code for arguments of just these types, without the look-up of types that every call would cost."""
        types = tuple(numba.typeof(example) for example in examples)  # type: ignore[no-untyped-call]
        function.compile(types)  # type: ignore[attr-defined]
        return function.overloads[types].entry_point  # type: ignore[attr-defined,no-any-return]
