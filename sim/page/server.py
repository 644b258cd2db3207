"""Start the page: a socket on this computer alone, one line that says where, the browser, and the first compilation."""

import socket
import threading
import webbrowser
from pathlib import Path
from urllib.parse import quote

import uvicorn

from sim.errors import InputError
from sim.page.desk import Desk
from sim.page.folder import ENDING, Folder
from sim.page.guard import Keys
from sim.page.routes import application

HERE = "127.0.0.1"


def listen(port: int) -> socket.socket:
    """A socket on a port of this computer, any free one for 0; InputError where the port is taken."""
    mine = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)  # the kind that is sent without delay
    mine.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        mine.bind((HERE, port))
    except (OSError, OverflowError) as reason:
        mine.close()
        raise InputError("sunrill page", "--port", port, f"a port that is free ({reason})") from None
    mine.listen(128)
    return mine


def serve(scenario: Path | None, folder: Path, port: int, with_browser: bool) -> None:
    """Serve until it is interrupted."""
    place = Folder.at(folder)
    opened = _name_in(place, scenario) if scenario else None
    mine = listen(port)
    desk = Desk(place, Keys.new(mine.getsockname()[1]))
    address = desk.keys.address
    if opened:
        address = address.replace("/?", f"/system/{quote(opened, safe='')}?")
    threading.Thread(target=desk.warm, daemon=True).start()
    server = uvicorn.Server(
        uvicorn.Config(application(desk), log_level="warning", lifespan="off", timeout_graceful_shutdown=1)
    )
    print(address, flush=True)
    if with_browser:
        threading.Timer(0.5, webbrowser.open, [address]).start()
    server.run(sockets=[mine])


def _name_in(place: Folder, scenario: Path) -> str:
    """The name of a scenario in the folder; InputError where it lies elsewhere or is none."""
    if not scenario.is_file() or scenario.suffix != ENDING or scenario.resolve().parent != place.root:
        raise InputError("sunrill page", "", str(scenario), f"a {ENDING} file in {place.root}")
    return scenario.stem
