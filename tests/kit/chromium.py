"""A real Chromium without a window, driven by its own debugging protocol: one for all the tests of a process."""

from __future__ import annotations

import atexit
import itertools
import json
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from functools import cache
from pathlib import Path
from typing import Any

from websockets.sync.client import ClientConnection, connect

from sim.browser import command

PATIENCE_S = 90.0
LOOK_AGAIN_S = 0.03
END_S = 5.0
WINDOW = {"width": 1300, "height": 900}


class Line:
    """A line to the browser, or to one of its tabs: commands of the protocol."""

    def __init__(self, socket: ClientConnection) -> None:
        self._socket, self._numbers = socket, itertools.count(1)

    def call(self, method: str, **given: Any) -> dict[str, Any]:
        """One command of the protocol; what happens meanwhile is noted."""
        number = next(self._numbers)
        self._socket.send(json.dumps({"id": number, "method": method, "params": given}))
        while True:
            told = json.loads(self._socket.recv(timeout=PATIENCE_S))
            if told.get("id") == number:
                assert "error" not in told, (method, told["error"])
                return dict(told["result"])
            self._note(told)

    def _note(self, told: dict[str, Any]) -> None:
        """Something that happens meanwhile."""


class Tab(Line):
    """A tab: ask it things in its own language, press keys, move the pointer."""

    def __init__(self, socket: ClientConnection, mine: dict[str, Any]) -> None:
        super().__init__(socket)
        self._mine = mine  # the browser context that it lives in
        self.requests: list[str] = []
        self.errors: list[str] = []
        self.console: list[str] = []  # everything that a reader would find on it, errors too
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.call(f"{domain}.enable")

    def _note(self, told: dict[str, Any]) -> None:
        kind, given = told["method"], told.get("params", {})
        if kind == "Network.requestWillBeSent":
            self.requests.append(given["request"]["url"])
        elif kind == "Runtime.exceptionThrown":
            self.errors.append(json.dumps(given["exceptionDetails"])[:400])
            self.console.append(self.errors[-1])
        elif kind == "Runtime.consoleAPICalled":
            self.console.append(json.dumps(given["args"])[:400])
        elif kind == "Log.entryAdded":
            self._logged(given["entry"])

    def _logged(self, entry: dict[str, Any]) -> None:
        self.console.append(entry["text"])
        if entry["source"] == "security":
            self.errors.append(entry["text"])

    def ask(self, script: str) -> Any:
        """What a line of script comes to, promises waited for."""
        told = self.call("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True)
        assert "exceptionDetails" not in told, told
        return told["result"].get("value")

    def until(self, script: str) -> Any:
        """Wait until a line of script comes to something true."""
        end = time.monotonic() + PATIENCE_S
        while True:
            try:
                if found := self.ask(script):
                    return found
            except AssertionError as reloading:
                if time.monotonic() > end:
                    raise AssertionError(script) from reloading
            assert time.monotonic() < end, f"never came: {script}"
            time.sleep(LOOK_AGAIN_S)

    def open(self, address: str) -> None:
        """Go to an address and wait for its page."""
        self.ask("window.leaving = true")
        self.call("Page.navigate", url=address)
        self.until("!window.leaving && document.readyState === 'complete'")

    def type(self, selector: str, text: str) -> None:
        """Put text into a field in place of what is there, as a keyboard does."""
        self.ask(f"(() => {{ const it = document.querySelector({json.dumps(selector)}); "
                 "for (let up = it; up; up = up.parentElement) if (up.tagName === 'DETAILS') up.open = true; "
                 "it.focus(); it.select && it.select(); })()")  # fmt: skip
        self.call("Input.insertText", text=text)

    def press(self, key: str, times: int = 1) -> None:
        """Press a key of the keyboard."""
        codes = {"ArrowLeft": 37, "ArrowRight": 39, "Tab": 9, "Enter": 13}
        text = {"text": "\r"} if key == "Enter" else {}
        for _ in range(times):
            for kind in ("keyDown", "keyUp"):
                self.call("Input.dispatchKeyEvent", type=kind, key=key, code=key, windowsVirtualKeyCode=codes[key],
                          **(text if kind == "keyDown" else {}))  # fmt: skip

    def drag(self, selector: str, to: float) -> None:
        """Take the handle of a range and draw it to a share of its length."""
        script = f"""(() => {{ const it = document.querySelector({json.dumps(selector)});
            it.scrollIntoView({{block: "center"}}); const box = it.getBoundingClientRect();
            const share = (it.value - it.min) / (it.max - it.min);
            const at = (part) => box.left + 8 + part * (box.width - 16);
            return [at(share), box.top + box.height / 2, at({to})];
        }})()"""
        from_x, y, to_x = self.ask(script)
        self._mouse("mousePressed", from_x, y)
        for step in range(1, 6):
            self._mouse("mouseMoved", from_x + (to_x - from_x) * step / 5.0, y)
        self._mouse("mouseReleased", to_x, y)

    def _mouse(self, kind: str, x: float, y: float) -> None:
        self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", buttons=1, clickCount=1)

    @contextmanager
    def beside(self) -> Iterator[Tab]:
        """Another tab of the same browser."""
        with _tab(self._mine, newWindow=False) as tab:
            yield tab

    def click(self, selector: str) -> None:
        """Press a button or a link."""
        self.ask(f"document.querySelector({json.dumps(selector)}).click()")

    def screen(self, width: int, height: int, scheme: str = "light") -> None:
        """Show pages on a screen of this many pixels, in light or in dark."""
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
        self.call("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": scheme}])


@cache
def chromium() -> tuple[Line, str]:
    """The browser of this process, which ends with it, and the beginning of its tabs' addresses."""
    kept = ExitStack()
    atexit.register(kept.close)
    profile = Path(kept.enter_context(tempfile.TemporaryDirectory(prefix="chromium-", ignore_cleanup_errors=True)))
    call = command(profile, "--remote-debugging-port=0", "--allow-file-access-from-files")
    running = kept.enter_context(
        subprocess.Popen([*call, "about:blank"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    )
    kept.callback(_ended, running)
    told = profile / "DevToolsActivePort"
    _until(lambda: told.exists() and len(told.read_text().split()) > 1)
    port, path = told.read_text().split()
    host = f"ws://127.0.0.1:{port}"
    line = Line(kept.enter_context(_socket(host + path)))
    kept.callback(line.call, "Browser.close")  # by itself, so that nobody writes into its folder any more
    return line, f"{host}/devtools/page/"


@contextmanager
def browser() -> Iterator[Tab]:
    """A tab with cookies and storage of its own, as of a browser that was never used; it ends with the block."""
    line, _ = chromium()
    mine = line.call("Target.createBrowserContext")
    try:
        with _tab(mine, **WINDOW) as tab:
            yield tab
    finally:
        line.call("Target.disposeBrowserContext", **mine)


@contextmanager
def _tab(mine: dict[str, Any], **where: Any) -> Iterator[Tab]:
    line, pages = chromium()
    target = line.call("Target.createTarget", url="about:blank", **where, **mine)["targetId"]
    with _socket(pages + target) as socket:
        yield Tab(socket, mine)


def _ended(running: subprocess.Popen[bytes]) -> None:
    """Leave a browser the time to end by itself."""
    with suppress(subprocess.TimeoutExpired):
        running.wait(END_S)
    running.kill()


def _socket(address: str) -> ClientConnection:
    """A line that nobody keeps alive: that would draw dice by itself while other tests count theirs."""
    return connect(address, max_size=None, open_timeout=PATIENCE_S, ping_interval=None)


def _until(holds: Callable[[], bool]) -> None:
    end = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < end
        time.sleep(LOOK_AGAIN_S)
