"""The picture of the page in the README: ``python tests/page/picture.py`` makes reports/page.png anew."""

from __future__ import annotations

import base64
import shutil
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from kit.chromium import browser  # noqa: E402
from kit.serving import serving  # noqa: E402

STEEPER = "55"  # degrees, so that the ghost of the year before shows


def take(picture: Path) -> None:
    """The courtyard's page after its panel was tilted."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "ponds"
        folder.mkdir()
        shutil.copy(ROOT / "scenarios" / "courtyard.toml", folder)
        with serving(folder) as (printed, _), browser() as tab:
            size = {"width": 1200, "height": 860, "deviceScaleFactor": 1, "mobile": False}
            tab.call("Emulation.setDeviceMetricsOverride", **size)
            tab.open(printed.replace("/?", "/system/courtyard?"))
            tab.until("document.readyState === 'complete' && document.querySelector('main[data-ready=yes] .handles')")
            tab.type("[id='f-panel.tilt_deg']", STEEPER)
            tab.until("document.querySelector('.ghost') !== null")
            tab.ask("document.activeElement.scrollIntoView({block: 'center'})")
            picture.write_bytes(base64.b64decode(tab.call("Page.captureScreenshot")["data"]))


if __name__ == "__main__":
    take(ROOT / "reports" / "page.png")
