"""What the page works with while it runs, and what a posted form does to a scenario."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from sim.catalogue import template
from sim.errors import InputError
from sim.page.fields import fields_of, is_optional
from sim.page.folder import ENDING, Folder, fit_name
from sim.page.guard import Keys
from sim.page.live import Answers, Turns
from sim.page.store import State, Store
from sim.page.text import GONE, at, data_of, shown, with_table, with_value
from sim.scenario import parse

EXAMPLES = Path(__file__).parent / "examples"
OFF, ON = "controller.load_disconnect_v", "controller.load_reconnect_v"


@dataclass
class Desk:
    """The folder, the states, the answers, and the keys of this run."""

    folder: Folder
    keys: Keys
    store: Store = field(init=False)
    answers: Answers = field(init=False)
    turns: Turns = field(default_factory=Turns)
    ready: threading.Event = field(default_factory=threading.Event)

    def __post_init__(self) -> None:
        self.store = Store(self.folder)
        self.answers = Answers(self.folder)

    def warm(self) -> None:
        """Run a year once, so that everything is imported and compiled; the page says that it is ready then."""
        try:
            scenario = parse(data_of(template()), self.folder.root / "template.toml")
            self.answers.of(scenario)
        finally:
            self.ready.set()

    def begin(self, name: str, text: str) -> str:
        """A new scenario, not saved yet, under a name or the next free one like it; returns the name."""
        wanted, taken = fit_name(name), set(self.folder.names())
        free = wanted if wanted not in taken else next(n for k in range(2, 9999) if (n := f"{wanted} {k}") not in taken)
        data_of(text, f"{free}{ENDING}")
        self.store.write(free, State((text,)))
        return free

    def act(self, name: str, form: Mapping[str, str]) -> State:
        """What a form asks for: changed fields first, then its button. What comes back is on disk."""
        with self.store.lock:
            state = self.store.open(name)
            seen = state.numbered(int(number)) if (number := form.get("_seen", "")).isdecimal() else state.text
            state = state.changed(changed(state.text, seen, form))
            verb, _, argument = form.get("do", "change").partition(" ")
            try:
                done = self._done(name, state, verb, argument or form.get("_name", ""))
            except InputError:
                self.store.write(name, state)
                raise
            return self.store.write(name, done)

    def _done(self, name: str, state: State, verb: str, argument: str) -> State:
        if verb == "save":
            return self._saved(name, state)
        act = ACTS.get(verb)
        if act is None:
            raise InputError("the page", "do", verb, f"one of {', '.join((*ACTS, 'save'))}")
        return act(state, argument)

    def _saved(self, name: str, state: State) -> State:
        """Write the scenario, if it is one."""
        path = self.folder.scenario(name)
        self.folder.check(parse(data_of(state.text, str(path)), path))
        return self.store.save(name, state)


def example_texts() -> dict[str, str]:
    """The scenarios that come with the page, by name."""
    return {path.stem: path.read_text("utf-8") for path in sorted(EXAMPLES.glob(f"*{ENDING}"))}


def changed(text: str, seen: str, form: Mapping[str, str]) -> str:
    """A text with the fields that a form has otherwise than the text that it was made from."""
    fields, old = fields_of(data_of(text)), data_of(seen)
    for key in form.keys() & fields.keys():
        typed = form[key].replace("\r", "").replace("\n", "")
        if typed != shown(at(old, key)):
            text = with_value(text, key, fields[key].value_of(typed), is_optional)
    return text


def _taken(state: State, argument: str) -> State:
    """Both load voltages at once, as a cell of the map has them."""
    pair = argument.split()
    text = state.text
    for key, volts in zip((OFF, ON), pair, strict=False):
        text = with_value(text, key, fields_of({})[key].value_of(volts))
    return state.changed(text)


def _without(state: State, argument: str) -> State:
    """Without a table of a list, or without an optional table."""
    data = data_of(state.text)
    if at(data, argument) is GONE or not (argument.rpartition(".")[2].isdecimal() or is_optional(argument)):
        return state
    return state.changed(with_value(state.text, argument, GONE, is_optional))


def _with(state: State, argument: str) -> State:
    """One more table of a list, of those that the form offers."""
    lists = ("panel.shade", "care.fault", "water.pipe", "water.fittings")
    return state.changed(with_table(state.text, argument)) if argument in lists else state


def _gone_to(state: State, argument: str) -> State:
    return state.moved(int(argument) - state.first) if argument.isdecimal() else state


def _kept_again(state: State, argument: str) -> State:
    """A design that was put aside holds again."""
    found = [one.text for one in state.kept if one.name == argument]
    return state.changed(found[0]) if found else state


ACTS: dict[str, Callable[[State, str], State]] = {
    "change": lambda state, _: state,
    "undo": lambda state, _: state.moved(state.at - 1),
    "redo": lambda state, _: state.moved(state.at + 1),
    "go": _gone_to,
    "name": lambda state, name: state.named(name),
    "keep": lambda state, name: state.keeping(name),
    "drop": lambda state, name: state.dropping(name),
    "again": _kept_again,
    "take": _taken,
    "add": _with,
    "remove": _without,
}
