"""A browser without a window, where one is installed: it prints a report to PDF."""

import os
import shutil
import subprocess
import tempfile
from contextlib import suppress
from pathlib import Path

from sim.errors import InputError
from sim.files import write_bytes

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
PAPERS = ("a4", "letter")
QUIET = (
    *("--headless", "--disable-gpu", "--disable-quic", "--no-first-run", "--hide-scrollbars"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
)
PATIENCE_S = 120


def browser_path() -> str | None:
    """Where Chromium is, or None."""
    return next((found for name in NAMES if (found := shutil.which(name))), None)


def check_browser() -> None:
    """Raise InputError now, before long work, if there is no browser to print with."""
    if browser_path() is None:
        allowed = "a machine on which Chromium is installed; elsewhere print the report from any browser"
        raise InputError("sunrill year", "--pdf", None, allowed)


def command(profile: Path, *options: str) -> list[str]:
    """The command line up to what is to be opened; the superuser has no sandbox to run it in."""
    sandbox = ("--no-sandbox",) if getattr(os, "geteuid", lambda: 1)() == 0 else ()
    return [browser_path() or NAMES[0], *QUIET, *sandbox, f"--user-data-dir={profile}", *options]


def print_pdf(html: str, pdf: Path, paper: str) -> None:
    """Print a page to a PDF file on a paper; InputError if the browser does not manage it."""
    with tempfile.TemporaryDirectory(prefix="sunrill-") as folder:
        page, printed = Path(folder) / "page.html", Path(folder) / "page.pdf"
        page.write_text(html.replace("<style>", f"<style>\n@page{{size:{paper}}}", 1), encoding="utf-8")
        options = ("--no-pdf-header-footer", f"--print-to-pdf={printed}")
        call = [*command(Path(folder) / "profile", *options), page.as_uri()]
        with suppress(OSError, subprocess.TimeoutExpired):
            subprocess.run(call, capture_output=True, timeout=PATIENCE_S, check=False)
        if not printed.exists():
            raise InputError("sunrill year", "--pdf", None, f"a Chromium that prints; {browser_path()} printed nothing")
        write_bytes(pdf, printed.read_bytes())
