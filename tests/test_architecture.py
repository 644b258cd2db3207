"""Who may import whom, read from the sources."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from sim.commands import COMMANDS

SIM = Path(__file__).parent.parent / "sim"
SOURCES = {path.relative_to(SIM).as_posix(): path for path in sorted(SIM.rglob("*.py"))}

# From the street down: a room uses the rooms below it, and nothing above or beside it.
STREET = (
    "__main__",
    "cli",
    "commands",
    "terminal",
    "screen",
    "page",
    "report",
    "studies",
    "checks",
    "figures",
    "plant",
)
ROOMS = (*STREET, "devices", "light", "weather", "scenario", "catalogue", "ground")
GROUND = {"calendar", "words", "units", "files", "errors", "compiled", "browser", "language", "hands", "cluster"}


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    """All that a source says; read once for all tests here."""
    return tuple(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))


@pytest.fixture(scope="module", autouse=True)
def forgotten() -> Iterator[None]:
    """Afterwards the sources take no memory."""
    yield
    nodes.cache_clear()


@cache
def imports(path: Path) -> frozenset[str]:
    """Every module a source imports anywhere in it, and every name it takes from one as module.name."""
    return frozenset(_imports(path))


def _imports(path: Path) -> Iterator[str]:
    for node in nodes(path):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            assert node.level == 0, f"{path.name} imports relatively"
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def room_of(name: str) -> str:
    """The room of a source, or of a module of the ground floor, "ground"."""
    room = name.split("/")[0].removesuffix(".py")
    return "ground" if room in GROUND else room


def module_graph() -> dict[str, set[str]]:
    """Which source imports which others, at run time, lazily or for types alone.

    A module taken from its room counts as the module, a name taken from a room as the room's front.
    """
    modules = {
        "sim." + name.removesuffix(".py").removesuffix("/__init__").replace("/", "."): name
        for name in SOURCES
        if name != "__init__.py"
    }

    def source_of(name: str) -> str | None:
        return modules.get(name) or modules.get(name.rpartition(".")[0])

    names = {name: set(imports(path)) for name, path in SOURCES.items()}
    taken = {
        name: {one for one in found if not any(it.startswith(f"{one}.") for it in found)}
        for name, found in names.items()
    }
    return {name: {it for it in map(source_of, found) if it} - {name} for name, found in taken.items()}


def reach(graph: dict[str, set[str]], start: str) -> set[str]:
    """Everything that a source imports, directly or through others."""
    met: set[str] = set()
    waiting = list(graph[start])
    while waiting:
        if (one := waiting.pop()) not in met:
            met.add(one)
            waiting += graph[one]
    return met


def importers(*modules: str) -> set[str]:
    """The sources that import one of these modules or something inside it."""
    inside = tuple(f"{module}." for module in modules)
    return {
        name
        for name, path in SOURCES.items()
        if any(found in modules or found.startswith(inside) for found in imports(path))
    }


def within(names: set[str], *places: str) -> set[str]:
    """Those of the names that lie in none of the places."""
    return {name for name in names if not name.startswith(places)}


def test_the_sources_are_found() -> None:
    """The other tests here look at something."""
    assert {"plant/step.py", "plant/engine.py", "devices/battery.py", "light/sunlight.py"} <= set(SOURCES)
    assert importers("sim.plant.step") and importers("pvlib")


def test_no_circles_and_no_arrow_upward() -> None:
    """On the transitive graph, lazy and type-only imports counted, no source reaches itself or a room above its own."""
    graph = module_graph()
    reached = {name: reach(graph, name) for name in graph}
    circles = sorted(name for name in graph if name in reached[name])
    upward = sorted(
        f"{name} -> {other}"
        for name in graph
        if name != "__init__.py"
        for other in reached[name]
        if ROOMS.index(room_of(other)) < ROOMS.index(room_of(name))
    )
    arrows = sum(map(len, graph.values()))
    print(f"sources {len(graph)}, imports {arrows}, circles {len(circles)}, arrows upward {len(upward)}")
    assert arrows > len(graph) and not circles and not upward


@pytest.mark.parametrize("name", [name for name in SOURCES if name.startswith("devices/")])
def test_devices_know_neither_each_other_nor_the_rest(name: str) -> None:
    """A device imports nothing of the package but the switch that compiles it."""
    own = {found for found in imports(SOURCES[name]) if found.split(".")[0] == "sim"}
    assert own <= {"sim.compiled", "sim.compiled.compiled", "sim.compiled.fused"}


def test_only_the_bus_composes_devices() -> None:
    """No other source knows two of the devices that meet at the bus; cable equations are shared.

    Circuit and minds ask the controller, step and books the battery, the wiring the pump's law at one voltage: each one
    device, which composes nothing and saves a second copy of it.
    """
    knows = defaultdict(set)
    for device in ("panel", "controller", "battery", "pump"):
        for name in importers(f"sim.devices.{device}"):
            knows[name].add(device)
    assert knows["plant/bus.py"] == {"panel", "battery", "pump"}
    assert {name for name, several in knows.items() if len(several) > 1} == {"plant/bus.py"}
    assert {name for name, several in knows.items() if "panel" in several} == {"plant/bus.py"}


def test_only_the_engine_moves_time() -> None:
    """Nobody but the engine calls the stepping entry, and simpy owns the clock there."""
    assert importers("sim.plant.step") == {"plant/engine.py"}
    assert importers("simpy") == {"plant/engine.py"}
    assert (
        within(importers("sim.plant.bus", "sim.plant.circuit", "sim.plant.minds", "sim.plant.books"), "plant/") == set()
    )


def functions(room: str) -> Iterator[tuple[str, ast.FunctionDef]]:
    """Every function of a room with the source it stands in."""
    for name in SOURCES:
        if name.startswith(room):
            yield from ((name, node) for node in nodes(SOURCES[name]) if isinstance(node, ast.FunctionDef))


def test_the_plant_is_made_of_small_functions() -> None:
    """At most six parameters, but for the engine's door to many lanes; nine bodies in ten of at most fifteen lines."""
    lengths = []
    for name, node in functions("plant/"):
        assert len(node.args.args) <= 6 or node.name in {"each_hand", "simulate_lanes"}, f"{name}:{node.name}"
        first = node.body[1] if ast.get_docstring(node) and len(node.body) > 1 else node.body[0]
        lengths.append((node.end_lineno or first.lineno) - first.lineno + 1)
    assert sorted(lengths)[int(0.9 * len(lengths))] <= 15


def test_reports_do_not_simulate() -> None:
    """A report is made from results: it imports neither step nor engine nor devices."""
    assert not {
        name for name in importers("sim.plant.step", "sim.plant.engine", "sim.devices") if name.startswith("report/")
    }


def test_figures_are_pure() -> None:
    """What turns a log into figures cannot run anything."""
    movers = importers("sim.plant.step", "sim.plant.engine", "sim.studies", "simpy")
    assert not {name for name in movers if name.startswith(("figures/", "checks/"))}


def test_the_solar_library_stays_in_its_rooms() -> None:
    """Only weather and light know pvlib."""
    assert not within(importers("pvlib"), "weather/", "light/")


def test_the_pipe_library_stays_in_its_room() -> None:
    """Only the water knows fluids, and no compiled device does."""
    assert importers("fluids") and not within(importers("fluids"), "figures/water/")


def test_no_equation_stands_twice() -> None:
    """No two functions of the package have the same body."""
    bodies = defaultdict(set)
    for name, path in SOURCES.items():
        for node in nodes(path):
            if isinstance(node, ast.FunctionDef):
                said = [line for line in node.body if not isinstance(getattr(line, "value", None), ast.Constant)]
                if said:
                    bodies["\n".join(map(ast.unparse, said))].add(f"{name}:{node.name}")
    trivial = {"return function", "pass"}
    assert not {body: names for body, names in bodies.items() if len(names) > 1 and body not in trivial}


def test_nothing_swallows_every_error_or_runs_text() -> None:
    """No bare except, no except Exception, no exec or eval anywhere in the package."""
    for name, path in SOURCES.items():
        for node in nodes(path):
            if isinstance(node, ast.ExceptHandler):
                assert node.type is not None and ast.unparse(node.type) != "Exception", f"{name}:{node.lineno}"
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                assert node.func.id not in {"exec", "eval"}, f"{name}:{node.lineno}"


def test_no_test_module_imports_another() -> None:
    """What several test modules need lies in a module that holds no tests."""
    tests = Path(__file__).parent
    found = {path.name: set(imports(path)) for path in tests.rglob("test_*.py")}
    assert len(found) > 40
    assert not {name for name, used in found.items() if any(one.split(".")[0].startswith("test_") for one in used)}


def test_a_command_is_found_by_its_file_alone() -> None:
    """Each file beside the shared one is a command of its own name, at a place of its own."""
    files = {path.stem for path in (SIM / "commands").glob("[!_]*.py")} - {"shared"}
    assert len(files) > 5 and {one.name for one in COMMANDS} == files
    assert len({one.place for one in COMMANDS}) == len(COMMANDS)
