"""A cluster's workers do the same as threads; what is wrong with a cluster is one message. In-process workers here."""

from __future__ import annotations

import builtins
import gc
import os
import random
import socket
import struct
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
from conftest import COURTYARD, changed
from kit.handed import Square, Whose

from sim import cli, cluster, hands
from sim.errors import InputError
from sim.scenario import load
from sim.studies.chains import Walk, run_years, synthetic
from sim.weather.many import years_for


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    """A scheduler with one worker in this process; skips where the extra is not installed, but fails in CI."""
    if os.environ.get("CI") != "true":
        pytest.importorskip("distributed")
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=1, threads_per_worker=2, processes=False, protocol="tcp://", dashboard_address=":0"
    ) as one:
        yield one.scheduler_address


def test_workers_do_what_threads_do(address: str, tmp_path: Path) -> None:
    """Results in order, what they told of, and nothing left at the scheduler."""
    heard: list[int] = []
    with cluster.handed_to(address) as who:
        assert hands.now() is who and who.width == 2 and who.here is hands.THREADS
        assert hands.in_order(who, Square(tmp_path), range(30), heard.append) == [k * k for k in range(30)]
        results = who.each(Square(tmp_path, slow_s=0.05), range(1000))
        next(results)
        results.close()  # type: ignore[attr-defined]
        deadline = time.monotonic() + 5.0
        while who.client.run_on_scheduler(lambda dask_scheduler: len(dask_scheduler.tasks)):  # type: ignore[attr-defined]
            assert time.monotonic() < deadline, "tasks are left behind"
            time.sleep(0.05)
    assert sum(heard) == sum(range(30)) and hands.now() is hands.THREADS


def test_pieces_are_dealt_out_evenly(address: str) -> None:
    """Of ten long pieces two workers do five each; whoever has more keeps all others waiting."""
    from distributed import LocalCluster

    with (
        LocalCluster(
            n_workers=2, threads_per_worker=1, processes=False, protocol="tcp://", dashboard_address=":0"
        ) as two,
        cluster.handed_to(two.scheduler_address) as who,
    ):
        done = Counter(hands.in_order(who, Whose(0.3), range(10)))
    assert sorted(done.values()) == [5, 5]


def test_years_on_a_cluster_are_the_years_of_threads(address: str) -> None:
    """Bit by bit."""
    scenario = load(COURTYARD)
    many = synthetic(years_for(scenario), 2)
    here = run_years([scenario], many)
    with cluster.handed_to(address):
        there = run_years([scenario], many)
    assert here.figures.tobytes() == there.figures.tobytes() and here.light.tobytes() == there.light.tobytes()
    for name in ("soc", "starts"):
        assert here.ended["totals"][name].tobytes() == there.ended["totals"][name].tobytes()


def test_a_worker_of_another_version_is_refused(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Before any work, and when it comes later."""
    own = cluster.mark()
    monkeypatch.setattr(cluster, "mark", lambda: ("sources 0", *own[1:]))
    monkeypatch.setattr(cluster, "_theirs", lambda client: {"tcp://w:1": own})
    refused = pytest.raises(InputError, match="workers of this very version; tcp://w:1 has sources .*, here sources 0")
    with refused, cluster.handed_to(address):
        pass
    monkeypatch.undo()
    with cluster.handed_to(address) as who:
        late = who.client.submit(cluster.done, b"", b"", ("another",))  # type: ignore[attr-defined]
        with pytest.raises(cluster.Other, match="tcp://"):
            late.result()


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("tcp://127.0.0.1:9", "an address|answers"),
        ("nonsense", "tcp://192.168.1.7:8786"),
        ("local:0", "local:N"),
        ("local:x", "local:N"),
    ],
)
def test_an_address_without_a_scheduler_is_one_message(
    address: str, said: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Soon, and the exit code is 2."""
    begun = time.monotonic()
    asked = ["spread", str(COURTYARD), "--years", "10", "--scheduler", address, "--out", str(tmp_path / "out")]
    assert cli.main(asked) == cli.WRONG_INPUT
    words = capsys.readouterr().err.strip()
    assert len(words.splitlines()) == 1 and "--scheduler" in words and not (tmp_path / "out").exists()
    assert time.monotonic() - begun < 10.0


def framed(part: bytes) -> bytes:
    """A message as a scheduler sends it: how long it is, in how many parts, how long each, and the part in msgpack."""
    body = struct.pack("<QQ", 1, len(part)) + part
    return struct.pack("<Q", len(body)) + body


@contextmanager
def answering(junk: bytes) -> Iterator[str]:
    """The address of a server that says something to whoever comes, and no more."""
    with socket.create_server(("127.0.0.1", 0)) as server, ExitStack() as held:

        def serve() -> None:
            with suppress(OSError):
                while True:
                    one = held.enter_context(server.accept()[0])
                    with suppress(OSError):  # who only looks whether somebody is there has gone by now
                        one.sendall(junk)
                        if junk != SILENCE:
                            one.shutdown(socket.SHUT_WR)

        threading.Thread(target=serve, daemon=True).start()
        yield f"tcp://127.0.0.1:{server.getsockname()[1]}"
        server.shutdown(socket.SHUT_RDWR)


SILENCE = b""
HELLO = framed(b"\x83\xabcompression\xc0\xa6python\x93\x03\x0b\x07\xafpickle-protocol\x05")


@pytest.mark.parametrize(
    "junk",
    [
        b"HTTP/1.1 400 Bad Request\r\nContent-Length: 0\r\n\r\n",
        random.Random(20).randbytes(4096),
        bytes(4096),
        SILENCE,
        struct.pack("<QQ", 1, 2**62),
        framed(b"\x92\x01\x02"),
        HELLO,
        HELLO + framed(b"\xa1x"),
        HELLO + framed(b"\x81\xa4type\xa6Worker"),
        HELLO + b"\xff" * 64,
    ],
    ids=["http", "noise", "zeros", "silence", "endless", "list", "hello", "text", "worker", "cut"],
)
def test_a_port_that_answers_junk_is_one_message(
    junk: bytes, capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No traceback, also none that comes late; the exit code is 2."""
    pytest.importorskip("distributed")
    monkeypatch.setattr(cluster, "PATIENCE_S", 0.5)
    with answering(junk) as address:
        asked = ["spread", str(COURTYARD), "--years", "10", "--scheduler", address, "--out", str(tmp_path / "out")]
        assert cli.main(asked) == cli.WRONG_INPUT
    gc.collect()
    words = capsys.readouterr().err.strip()
    assert len(words.splitlines()) == 1 and "a scheduler that answers" in words and not (tmp_path / "out").exists()


def test_without_dask_the_extra_is_named(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """One message."""
    real = builtins.__import__

    def without(name: str, *rest: Any) -> Any:
        if name.split(".")[0] in ("dask", "distributed"):
            raise ImportError(name)
        return real(name, *rest)

    monkeypatch.setattr(builtins, "__import__", without)
    assert cli.main(["pairs", str(COURTYARD), "--scheduler", "local:2"]) == cli.WRONG_INPUT
    assert "sunrill[cluster]" in capsys.readouterr().err


def test_what_travels_is_small() -> None:
    """The work that tasks share some megabytes, an item some bytes."""
    import pickle

    scenario = changed({})
    many = synthetic(years_for(scenario), 40)
    assert len(pickle.dumps(Walk((scenario,), many.without_chains))) < 4e6
    assert len(pickle.dumps(many.chains[:2])) < 1000
