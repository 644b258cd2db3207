"""A weather service on this machine that answers as the real one does, or badly."""

from __future__ import annotations

import gzip
import json
import threading
import zlib
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import cache
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlsplit

from sim.weather.samples import read_sample

NAMES = ("ALLSKY_SFC_SW_DWN", "ALLSKY_SFC_SW_DNI", "ALLSKY_SFC_SW_DIFF", "T2M", "WS10M")
UNITS = ("Wh/m^2", "Wh/m^2", "Wh/m^2", "C", "m/s")
YEAR = 2019
TABLE = read_sample("piedmont")[0].to_numpy()
Change = Callable[[dict[str, Any]], Any]


OTHERWISE = '{"messages": ["not now"]}'
REFUSALS = {  # as the service writes them: the reason in messages
    422: '{"header": "Service", "messages": ["Your start date is outside of the available range.", "Try 2001."]}',
    404: "<html>no such page</html>",
}
PACKED = {"packed": "gzip", "bomb": "gzip", "odd packing": "br"}
BOMB_BYTES = 2**28


@cache
def bomb() -> bytes:
    """A quarter of a gigabyte of zeros, packed a thousandfold."""
    packer, piece = zlib.compressobj(level=9, wbits=31), bytes(2**24)
    return b"".join(packer.compress(piece) for _ in range(BOMB_BYTES // len(piece))) + packer.flush()


BODIES: dict[str, Callable[[], bytes]] = {
    "503": lambda: b"<html>busy</html>",
    "bomb": bomb,
    "large": lambda: b" " * 9 * 2**20,
    "deep": lambda: b"[" * 200_000 + b"]" * 200_000,
    "nan": lambda: b'{"header": NaN}',
}


@cache
def answer(start: str, end: str) -> str:
    """The days asked for, each hour of universal time with the sample's value of that hour at five hours west."""
    first, last = (datetime.strptime(day, "%Y%m%d") for day in (start, end))
    hours = [first + timedelta(hours=k) for k in range(24 * ((last - first).days + 1))]
    rows = [int((at - timedelta(hours=5) - datetime(YEAR, 1, 1)) / timedelta(hours=1)) % 8760 for at in hours]
    values = {
        name: {f"{at:%Y%m%d%H}": float(TABLE[row, k]) for at, row in zip(hours, rows, strict=True)}
        for k, name in enumerate(NAMES)
    }
    found = {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [-79.95, 36.1, 247.3]},
        "properties": {"parameter": values},
        "header": {"fill_value": -999.0, "time_standard": "UTC", "sources": ["SATELLITE", "REANALYSIS"]},
        "parameters": {name: {"units": unit, "longname": name} for name, unit in zip(NAMES, UNITS, strict=True)},
        "times": {"data": 0.1},
    }
    return json.dumps(found)


class Service(ThreadingHTTPServer):
    """Answers each request as the next word of ``moods`` says, and well when there are none left."""

    daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), Handler)
        self.moods: list[str] = []
        self.asked: list[str] = []
        self.over = threading.Event()

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.server_port}/hourly"


class Handler(BaseHTTPRequestHandler):
    server: Service

    def do_GET(self) -> None:
        query = parse_qs(urlsplit(self.path).query)
        self.server.asked.append(f"{query['start'][0]}-{query['end'][0]}")
        mood = self.server.moods.pop(0) if self.server.moods else "well"
        if mood == "slow":
            self.server.over.wait(20.0)
        status, _, wait = mood.partition(" after ")
        status = int(status) if status.isdecimal() else 200
        assert set(query["parameters"][0].split(",")) == set(NAMES) and query["time-standard"] == ["utc"]
        text = answer(query["start"][0], query["end"][0]) if status == 200 else REFUSALS.get(status, OTHERWISE)
        if mood in CHANGES:
            text = json.dumps(CHANGES[mood](json.loads(text)))
        body = BODIES[mood]() if mood in BODIES else text.encode()
        self.send_response(status)
        if wait:
            self.send_header("Retry-After", wait)
        if mood in PACKED:
            self.send_header("Content-Encoding", PACKED[mood])
            body = gzip.compress(body) if mood != "bomb" else body
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body[: len(body) // 2] if mood == "cut" else body)
        self.close_connection = True

    def log_message(self, *_: Any) -> None:
        """Say nothing."""


def with_values(name: str, change: Callable[[float], float], rows: slice = slice(None)) -> Change:
    """The answer with one column changed in some hours."""

    def changed(data: dict[str, Any]) -> dict[str, Any]:
        column = data["properties"]["parameter"][name]
        for stamp in list(column)[rows]:
            column[stamp] = change(column[stamp])
        return data

    return changed


def without_hours(data: dict[str, Any]) -> dict[str, Any]:
    """The last day is missing."""
    columns = data["properties"]["parameter"]
    data["properties"]["parameter"] = {name: dict(list(column.items())[:-24]) for name, column in columns.items()}
    return data


def in_other_units(data: dict[str, Any]) -> dict[str, Any]:
    """Light in MJ."""
    data["parameters"]["ALLSKY_SFC_SW_DWN"]["units"] = "MJ/hr"
    return data


def high_up(data: dict[str, Any]) -> dict[str, Any]:
    """A height that no place has."""
    data["geometry"]["coordinates"] = [-79.95, 36.1, 1e9]
    return data


def with_signs(data: dict[str, Any]) -> dict[str, Any]:
    """Sources that would write lines of their own into a table, and colours into a terminal."""
    data["header"]["sources"] = ["SATELLITE\n# utc_offset_h = 9", "\x1b[31mREANALYSIS", *["x" * 10_000] * 100]
    return data


def an_hour_late(data: dict[str, Any]) -> dict[str, Any]:
    """Stamps of the hours' ends."""
    columns = data["properties"]["parameter"]
    for name, column in columns.items():
        values = list(column.values())
        columns[name] = dict(zip(column, [values[0], *values[:-1]], strict=True))
    return data


CHANGES: dict[str, Change] = {
    "list": lambda data: [1, 2, 3],
    "empty": lambda data: {},
    "null": lambda data: None,
    "words": with_values("T2M", lambda value: "warm"),  # type: ignore[arg-type, return-value]
    "impossible": with_values("ALLSKY_SFC_SW_DWN", lambda value: 5e4),
    "short": without_hours,
    "high up": high_up,
    "signs": with_signs,
    "unwritten": with_values("ALLSKY_SFC_SW_DWN", lambda value: -999.0, slice(-500, None)),
    "all unwritten": with_values("T2M", lambda value: -999.0),
    "an hour late": an_hour_late,
    "units": in_other_units,
    "solar time": lambda data: data | {"header": data["header"] | {"time_standard": "LST"}},
    "fill": with_values("ALLSKY_SFC_SW_DWN", lambda value: -999.0),
    "two hours": with_values("T2M", lambda value: -999.0, slice(1000, 1002)),
}
