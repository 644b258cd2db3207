"""A file to double-click: for each of the three desktops one that starts the page in its own folder."""

import shlex
import sys
from pathlib import Path

from sim.files import write_text

NAME = "Running on sunlight"


def starters(python: str, folder: Path) -> dict[str, str]:
    r"""What stands in each starter, by file name.

    >>> starters("/opt/a b/python", Path("/home/me/ponds"))["Running on sunlight.command"]
    "#!/bin/sh\ncd /home/me/ponds && exec '/opt/a b/python' -m sim page\n"
    """
    run = f"cd {shlex.quote(str(folder))} && exec {shlex.quote(python)} -m sim page\n"
    entry = (
        "[Desktop Entry]\nType=Application\nTerminal=true\n"
        f"Name={NAME}\nPath={folder}\nExec={_desktop_quoted(python)} -m sim page\n"
    )
    batch = f'@echo off\r\ncd /d "{folder}"\r\n"{python}" -m sim page\r\n'.replace("%", "%%")
    return {f"{NAME}.command": f"#!/bin/sh\n{run}", f"{NAME}.desktop": entry, f"{NAME}.bat": batch}


def _desktop_quoted(text: str) -> str:
    """A word of an Exec line, by the Desktop Entry Specification."""
    inside = "".join(f"\\\\{sign}" if sign in '"`$\\' else sign for sign in text).replace("%", "%%")
    return f'"{inside}"'


def write_shortcuts(folder: Path) -> list[Path]:
    """Write the starters into a folder, fit to be run; returns where they are."""
    place = folder.resolve()
    written = []
    for name, text in starters(sys.executable, place).items():
        path = folder / name
        write_text(path, text)
        path.chmod(0o755)
        written.append(path)
    return written
