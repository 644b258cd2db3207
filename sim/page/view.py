"""What a page shows of a scenario: its fields with their values, the figures, what is wrong; all in words."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sim.browser import browser_path
from sim.errors import InputError
from sim.page import drawing
from sim.page.desk import Desk
from sim.page.fields import Field, Part, default_of, parts_of, resolved_at
from sim.page.jobs import Job
from sim.page.live import Answer, Band
from sim.page.store import State
from sim.page.studies import STUDIES
from sim.page.text import at, data_of, shown
from sim.scenario import Scenario, parse
from sim.studies.pair import Pair

BACK = 12  # so many states back the last one that was right is looked for


@dataclass(frozen=True)
class Problem:
    """What is wrong: the key of the field that it is shown beside, empty for the whole, and the message."""

    key: str
    words: str


@dataclass(frozen=True)
class Value:
    """A field as it stands in the form: what is written, what holds without it, what is wrong with it."""

    value: str
    default: str
    error: str


@dataclass(frozen=True)
class Figure:
    """A figure of the answer: its result key, its words, its exact value, and what it reads as now and before."""

    key: str
    words: str
    value: float
    text: str
    before: str


@dataclass(frozen=True)
class Design:
    """A design that was put aside, or the one that holds, with its figures."""

    name: str
    figures: tuple[Figure, ...]
    is_kept: bool


@dataclass(frozen=True)
class Handle:
    """A threshold as a range: its key, words, value, ends and step."""

    key: str
    words: str
    value: str
    least: str
    most: str
    step: str


@dataclass(frozen=True)
class Chart:
    """The map of pairs as far as it is filled: rows of cells by reconnect voltage, the highest first."""

    job: Job
    off_v: tuple[float, ...]
    rows: tuple[tuple[float, tuple[Pair | None, ...]], ...]
    present: tuple[float, float]
    is_old: bool


@dataclass(frozen=True)
class View:
    """All that the templates need. ``answer`` is of the text that holds unless ``stale``; None where there is none."""

    name: str
    title: str
    state: State
    parts: tuple[Part, ...]
    values: Mapping[str, Value]
    problem: Problem | None
    answer: Answer | None
    before: Answer | None
    stale: bool
    ready: bool
    designs: tuple[Design, ...] = ()
    jobs: tuple[Job, ...] = ()
    map: Chart | None = None

    @property
    def busy(self) -> bool:
        """Whether something is still going on that the page should look after."""
        return any(job.state == "running" for job in self.jobs) or bool(self.map and self.map.job.state == "running")

    @property
    def prints(self) -> bool:
        """Whether there is a browser that prints to PDF."""
        return browser_path() is not None

    @property
    def studies(self) -> dict[str, str]:
        """The studies that there are, in words."""
        return {key: study.words for key, study in STUDIES.items()}

    @property
    def figures(self) -> tuple[Figure, ...]:
        """The figures in the order in which they are read."""
        return figures_of(self.answer, self.before) if self.answer else ()

    @property
    def heads(self) -> tuple[str, ...]:
        """The words of the figures."""
        return tuple(words for _, words, _ in _SHOWN)

    @property
    def bars(self) -> tuple[tuple[drawing.Column, ...], tuple[tuple[float, int], ...]]:
        """The months' bars and their scale."""
        if self.answer is None:
            return (), ()
        return drawing.columns(self.answer.run_h, self.answer.wanted_h, self.before.run_h if self.before else None)

    @property
    def strip(self) -> drawing.Strip | None:
        """The worst fortnight's picture."""
        band = self.answer.band if self.answer else None
        if band is None:
            return None
        return drawing.strip(band.low_v, band.high_v, (band.off_v, band.on_v), (band.least_v, band.most_v))

    @property
    def handles(self) -> tuple[Handle, ...]:
        """The two thresholds."""
        return _handles(self.answer.band) if self.answer else ()


_SHOWN: tuple[tuple[str, str, Callable[[float], str]], ...] = (
    ("pump_hours", "pump hours in the year", lambda value: f"{value:,.0f} h"),
    ("hours_met_share", "of the wanted hours met", lambda value: f"{value:.1%}"),
    ("longest_stop_h", "longest stop", lambda value: f"{value:,.0f} h"),
    ("starts", "starts", lambda value: f"{value:,.0f}"),
    ("battery.min_soc", "lowest charge, simulated", lambda value: f"{value:.0%}"),
)


def figures_of(answer: Answer, before: Answer | None) -> tuple[Figure, ...]:
    """The figures of an answer beside those before the change, where they read otherwise."""
    rows = []
    for key, words, text in _SHOWN:
        now, then = text(answer.figures[key]), text(before.figures[key]) if before else ""
        rows.append(Figure(key, words, answer.figures[key], now, then if then != now else ""))
    return tuple(rows)


def _handles(band: Band) -> tuple[Handle, ...]:
    pairs = (("load_disconnect_v", "pump stops at", band.off_v), ("load_reconnect_v", "pump runs again at", band.on_v))
    return tuple(
        Handle(f"controller.{name}", words, f"{volts:g}", f"{band.least_v:g}", f"{band.most_v:g}", _step(volts))
        for name, words, volts in pairs
    )


def _step(volts: float) -> str:
    """A hundredth of a volt, or anything where the value itself is finer."""
    return "0.01" if abs(volts - round(volts, 2)) < 1e-9 else "any"


def problem_of(wrong: InputError, data: Mapping[str, Any], keys: Mapping[str, Field]) -> Problem:
    """A message beside the field that it is about, in the words of the command line without the file's name."""
    key = re.sub(r"\[(\d+)\]", r".\1", wrong.key)
    while key and key not in keys:
        key = key.rpartition(".")[0]
    return Problem(key, str(wrong).removeprefix(f"{wrong.file}: "))


def read(text: str, path: Path) -> tuple[Scenario | None, InputError | None]:
    """The scenario of a text, or what is wrong with it."""
    try:
        return parse(data_of(text, str(path)), path), None
    except InputError as wrong:
        return None, wrong


def view_of(desk: Desk, name: str, state: State, check: Callable[[], None] = lambda: None) -> View:
    """A scenario as it is shown; works its year out where that is not known. InputError for a text that is no TOML."""
    path = desk.folder.scenario(name)
    data = data_of(state.text, str(path))
    scenario, wrong = read(state.text, path)
    answer, ready = None, desk.ready.is_set()
    if scenario and ready:
        try:
            answer = desk.answers.of(scenario, check)
        except InputError as found:
            wrong = found
    resolved, last = _last_right(desk, path, state) if scenario is None or answer is None else (scenario, answer)
    parts = parts_of(data)
    fields = {field.key: field for part in parts for field in part.every_field()}
    problem = problem_of(wrong, data, fields) if wrong else None
    before = _known(desk, path, state.before)
    return View(
        name=name,
        title=str(data.get("title") or name),
        state=state,
        parts=parts,
        values=_values(data, fields, scenario or resolved, problem),
        problem=problem,
        answer=answer or last,
        before=before if answer else None,
        stale=answer is None and last is not None,
        ready=ready,
        designs=_designs(desk, path, state, answer) if ready else (),
        jobs=desk.jobs.of(name),
        map=_chart(desk.jobs.map_of(name), state.text, scenario or resolved),
    )


def _chart(job: Job | None, text: str, scenario: Scenario | None) -> Chart | None:
    """A map as it is; old where the scenario says something else by now than the voltages."""
    if job is None:
        return None
    cells: dict[tuple[float, float], Any] = {(p.load_disconnect_v, p.load_reconnect_v): p for p in job.cells.copy()}
    off_v, on_v = (tuple(sorted({pair[k] for pair in cells})) for k in (0, 1))
    rows = tuple((on, tuple(cells.get((off, on)) for off in off_v)) for on in reversed(on_v))
    control = scenario.controller if scenario else None
    present = (control.load_disconnect_v, control.load_reconnect_v) if control else (0.0, 0.0)
    return Chart(job, off_v, rows, present, _but_voltages(job.text) != _but_voltages(text))


def _but_voltages(text: str) -> dict[str, Any]:
    """The data of a text without the two voltages."""
    data = data_of(text)
    control = data.get("controller")
    if isinstance(control, dict):
        for name in ("load_disconnect_v", "load_reconnect_v"):
            control.pop(name, None)
    return {key: value for key, value in data.items() if key != "controller" or value}


def _designs(desk: Desk, path: Path, state: State, answer: Answer | None) -> tuple[Design, ...]:
    """The one that holds and those that were put aside, side by side; none where nothing was put aside."""
    kept = tuple(Design(one.name, _kept_figures(desk, path, one.text), True) for one in state.kept)
    now = (Design("as it is now", figures_of(answer, None), False),) if answer else ()
    return (*now, *kept) if kept else ()


def _kept_figures(desk: Desk, path: Path, text: str) -> tuple[Figure, ...]:
    """The figures of a design; none where it is not whole."""
    scenario = read(text, path)[0]
    try:
        return figures_of(desk.answers.of(scenario), None) if scenario else ()
    except InputError:
        return ()


def _values(
    data: Mapping[str, Any], fields: Mapping[str, Field], resolved: Scenario | None, problem: Problem | None
) -> dict[str, Value]:
    wrong = {problem.key: problem.words} if problem else {}
    return {
        key: Value(shown(at(data, key)), default_of(field, resolved_at(resolved, key)), wrong.get(key, ""))
        for key, field in fields.items()
    }


def _known(desk: Desk, path: Path, text: str | None) -> Answer | None:
    """What was answered to a text, if it was."""
    scenario = read(text, path)[0] if text is not None else None
    return desk.answers.known(scenario) if scenario else None


def _last_right(desk: Desk, path: Path, state: State) -> tuple[Scenario | None, Answer | None]:
    """The newest earlier state that is whole, and its answer if it is known."""
    for text in reversed(state.texts[max(0, state.at - BACK) : state.at + 1]):
        if scenario := read(text, path)[0]:
            return scenario, desk.answers.known(scenario)
    return None, None
