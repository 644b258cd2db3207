"""A real Chromium without a window, driven by its own debugging protocol, on a page that really serves."""

from __future__ import annotations

import itertools
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.request import Request, urlopen

from websockets.sync.client import ClientConnection, connect

from sim.browser import command

PATIENCE_S = 90.0
ROOT = Path(__file__).parents[2]


class Tab:
    """A tab: ask it things in its own language, press keys, move the pointer."""

    def __init__(self, socket: ClientConnection, port: str) -> None:
        self._socket, self._port, self._numbers = socket, port, itertools.count(1)
        self.requests: list[str] = []
        self.errors: list[str] = []
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.call(f"{domain}.enable")

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
        if told["method"] == "Network.requestWillBeSent":
            self.requests.append(told["params"]["request"]["url"])
        elif told["method"] == "Runtime.exceptionThrown":
            self.errors.append(json.dumps(told["params"]["exceptionDetails"])[:400])
        elif told["method"] == "Log.entryAdded" and told["params"]["entry"]["source"] == "security":
            self.errors.append(told["params"]["entry"]["text"])

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
            time.sleep(0.1)

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
        new = Request(f"http://127.0.0.1:{self._port}/json/new?about:blank", method="PUT")
        with urlopen(new, timeout=PATIENCE_S) as answer:
            address = json.load(answer)["webSocketDebuggerUrl"]
        with connect(address, max_size=None, open_timeout=PATIENCE_S) as socket:
            yield Tab(socket, self._port)

    def click(self, selector: str) -> None:
        """Press a button or a link."""
        self.ask(f"document.querySelector({json.dumps(selector)}).click()")


@contextmanager
def browser(profile: Path) -> Iterator[Tab]:
    """A tab of a browser that ends with the block."""
    call = command(profile, "--remote-debugging-port=0", "--window-size=1300,900")
    with subprocess.Popen([*call, "about:blank"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as running:
        try:
            told = profile / "DevToolsActivePort"
            _until(lambda: told.exists() and told.read_text().strip() != "")
            port = told.read_text().split()[0]
            with urlopen(f"http://127.0.0.1:{port}/json/list", timeout=PATIENCE_S) as answer:
                pages = [one for one in json.load(answer) if one["type"] == "page"]
            with connect(pages[0]["webSocketDebuggerUrl"], max_size=None, open_timeout=PATIENCE_S) as socket:
                yield Tab(socket, port)
        finally:
            running.terminate()


def _until(holds: Any) -> None:
    end = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < end
        time.sleep(0.05)


@contextmanager
def serving(folder: Path, port: int = 0) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """The page in a process of its own on a folder: its printed address, and the process."""
    call = [sys.executable, "-m", "sim", "page", "--folder", str(folder), "--no-browser", "--port", str(port)]
    env = os.environ | {"PYTHONPATH": str(ROOT)}
    with subprocess.Popen(call, cwd=ROOT, env=env, text=True, stdout=subprocess.PIPE) as running:
        assert running.stdout
        try:
            yield running.stdout.readline().strip(), running
        finally:
            running.send_signal(signal.SIGKILL)
