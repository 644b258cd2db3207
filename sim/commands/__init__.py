"""What each command does: load, study, write, say. A file here is a command; nothing that costs is imported early."""

import pkgutil
from importlib import import_module

from sim.commands.shared import Command

_FILES = (import_module(f"{__name__}.{found.name}") for found in pkgutil.iter_modules(__path__))
COMMANDS: tuple[Command, ...] = tuple(sorted(file.COMMAND for file in _FILES if hasattr(file, "COMMAND")))
