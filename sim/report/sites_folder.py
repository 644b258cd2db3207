"""Sites into a folder: each site's reports, then its row beside them, so that a run that is broken off can go on."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sim import hands
from sim.errors import InputError
from sim.files import check_title, read_bytes, write_text
from sim.report.site_pages import Made, Pages
from sim.studies.sites import Place, Reader, Site, Sites, error_row, read_all

ROW = "site.json"  # the end of the name of a row
MOST_ROW_BYTES = 1_000_000


@dataclass
class Folder:
    """Where reports go; ``force`` replaces those of another title, ``go_on`` keeps what is done and unchanged."""

    out: Path
    force: bool = False
    go_on: bool = False
    rows: list[dict[str, Any]] = field(default_factory=list)
    written: list[Path] = field(default_factory=list)

    def ready(self, site: Site) -> bool:
        """Whether a site is done already; InputError where its report would replace that of another title."""
        if not self.force:
            check_title(self.out / f"{site.place.name}-year.html", site.scenario.title)
        row = kept_row(self.out, site) if self.go_on else None
        if row is not None:
            self.rows.append(row)
        return row is not None

    def take(self, site: Site, made: Made | InputError | hands.Lost) -> None:
        """Write what came of a site: reports first, the row at last; or note what is wrong with it."""
        if isinstance(made, Made):
            self._write(site, made)
        else:
            self.wrong(site.place, made.error() if isinstance(made, hands.Lost) else made)

    def _write(self, site: Site, made: Made) -> None:
        names = {f"{site.place.name}-{end}": text for end, text in made.texts.items()}
        row = {"name": site.place.name} | made.row | {"report": f"{site.place.name}-year.html", "error": None}
        for name, text in names.items():
            write_text(self.out / name, text)
        kept = {"key": site.key, "files": {name: _digest(text.encode()) for name, text in names.items()}, "row": row}
        write_text(self.out / f"{site.place.name}-{ROW}", json.dumps(kept, indent=1, allow_nan=False) + "\n")
        self.rows.append(row)
        self.written += [self.out / name for name in names]

    def wrong(self, place: Place, error: InputError) -> None:
        """Note a site that cannot be simulated."""
        self.rows.append(error_row(place, error))


def kept_row(out: Path, site: Site) -> dict[str, Any] | None:
    """The row of a site that is done and unchanged with all its reports, or None."""
    try:
        kept = json.loads(read_bytes(out / f"{site.place.name}-{ROW}", "a row", MOST_ROW_BYTES))
        unchanged = kept["key"] == site.key and all(
            _digest(read_bytes(out / name, "a report")) == digest for name, digest in kept["files"].items()
        )
        return dict(kept["row"]) if unchanged else None
    except (InputError, ValueError, LookupError, TypeError, AttributeError):
        return None


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def run_sites(
    places: Sequence[Place],
    reader: Reader,
    folder: Folder,
    work: Pages,
    progress: Callable[[int, int], None] = lambda done, of: None,
) -> Sites:
    """Every site through its years on whoever works now, its reports into the folder as they are done.

    A site that is wrong, or that kills who works on it, has its message in its row and stops nobody.
    """
    under_way: dict[int, Site] = {}
    sites = read_all(places, reader, folder.wrong, folder.ready)

    def kept() -> Any:
        for number, site in enumerate(sites):
            under_way[number] = site
            yield site

    for number, made in hands.now().each(work, kept(), name=lambda site: site.place.name):
        folder.take(under_way.pop(number), made)
        progress(len(folder.rows), len(places))
    return Sites.of(folder.rows)
