"""What the page works with while it runs, and what a posted form does to a scenario."""

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from sim.catalogue import template
from sim.errors import InputError
from sim.files import write_text
from sim.page.fields import fields_of, is_optional
from sim.page.folder import ENDING, Folder, fit_name
from sim.page.guard import Keys
from sim.page.jobs import MAP, Job, Jobs, collected
from sim.page.live import Answers, Turns
from sim.page.store import State, Store
from sim.page.studies import BY_WHAT_IS_TYPED, STUDIES, Asked, files_of, mapped
from sim.page.text import GONE, at, data_of, shown, whole, with_table, with_value
from sim.scenario import parse

EXAMPLES = Path(__file__).parent / "examples"
MOST_ALIKE = 1000  # scenarios whose names differ by a number alone
OFF, ON = "controller.load_disconnect_v", "controller.load_reconnect_v"


@dataclass
class Desk:
    """The folder, the states, the answers, and the keys of this run."""

    folder: Folder
    keys: Keys
    store: Store = field(init=False)
    answers: Answers = field(init=False)
    turns: Turns = field(default_factory=Turns)
    jobs: Jobs = field(default_factory=Jobs)
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
        free = next((n for n in (wanted, *(f"{wanted} {k}" for k in range(2, MOST_ALIKE))) if n not in taken), None)
        if free is None:
            raise InputError("the page", "name", name, f"a name that fewer than {MOST_ALIKE} others begin with")
        data_of(text, f"{free}{ENDING}")
        self.store.write(free, State((text,)))
        return free

    def act(self, name: str, form: Mapping[str, str]) -> State:
        """What a form asks for: changed fields first, then its button. What comes back is on disk."""
        with self.store.lock:
            state = self.store.open(name)
            self.turns.hear(name, form.get("_tab", ""), form.get("_number", ""))
            seen = whole(form.get("_seen", ""))
            state = state.changed(changed(state.text, state.text if seen is None else state.numbered(seen), form))
            verb, _, argument = form.get("do", "change").partition(" ")
            try:
                done = self._done(name, state, verb, argument or form.get("_name", ""), typed_in(form))
            except InputError:
                self.store.write(name, state)
                raise
            return self.store.write(name, done)

    def _done(self, name: str, state: State, verb: str, argument: str, typed: Mapping[str, str]) -> State:
        does: dict[str, Callable[[str, State, str], State]] = {
            "save": self._saved,
            "study": partial(self._study, typed=typed),
            "map": self._map,
            "adopt": self._adopt,
            "stop": self._stop,
            "files": self._files,
        }
        if verb in does:
            return does[verb](name, state, argument)
        act = ACTS.get(verb)
        if act is None:
            raise InputError("the page", "do", verb, f"one of {', '.join((*ACTS, *does))}")
        return act(state, argument)

    def _asked(self, name: str, state: State) -> Asked:
        """What a study is about; InputError where the state is not whole or reaches outside the folder."""
        asked = Asked.about(state, self.folder.scenario(name))
        self.folder.check(asked.scenario)
        return asked

    def _study(self, name: str, state: State, what: str, typed: Mapping[str, str]) -> State:
        """Begin a study, which may need what is typed beside its button."""
        if what not in STUDIES and what not in BY_WHAT_IS_TYPED:
            raise InputError("the page", "study", what, f"one of {', '.join((*STUDIES, *BY_WHAT_IS_TYPED))}")
        asked = self._asked(name, state)
        study = STUDIES[what] if what in STUDIES else BY_WHAT_IS_TYPED[what](asked, typed, self.folder)

        def work(job: Job) -> None:
            made = study.make(asked, job.progress)
            job.reports, job.offer, job.changes = made.reports, made.offer, made.changes

        self.jobs.start(lambda n: Job(n, name, what, study.words, study.command(asked), state.text), work)
        return state

    def _adopt(self, name: str, state: State, number: str) -> State:
        """Change the scenario as a study of it offers."""
        job = self._numbered(name, number)
        text = state.text
        for key, value in job.changes.items() if job else ():
            text = with_value(text, key, value, is_optional)
        return state.changed(text)

    def _numbered(self, name: str, number: str) -> Job | None:
        """A job of a scenario by its number, as a form has it."""
        job = self.jobs.numbered(whole(number))
        return job if job and job.scenario == name else None

    def _map(self, name: str, state: State, _: str) -> State:
        """Begin to fill the map of pairs, in place of one that is still being filled."""
        asked, former = self._asked(name, state), self.jobs.map_of(name)
        if former:
            former.stop.set()
        self.jobs.start(
            lambda n: Job(n, name, MAP, "the map of pairs", "", state.text),
            lambda job: collected(job, mapped(asked, job.progress)),
        )
        return state

    def _stop(self, name: str, state: State, number: str) -> State:
        """Stop a job of this scenario."""
        if job := self._numbered(name, number):
            job.stop.set()
        return state

    def _files(self, name: str, state: State, _: str) -> State:
        """Write the designs that were put aside as scenarios of their own; none that is there is replaced."""
        for file, text in files_of(self._asked(name, state)).items():
            path = self.folder.inside(fit_name(file))
            if path.exists() and path.read_text("utf-8", "replace") != text:
                raise InputError(str(path), "", None, "a name that is not taken yet; give the design another")
            write_text(path, text)
        return state

    def _saved(self, name: str, state: State, _: str) -> State:
        """Write the scenario, if it is one."""
        path = self.folder.scenario(name)
        self.folder.check(parse(data_of(state.text, str(path)), path))
        return self.store.save(name, state)


def typed_in(form: Mapping[str, str]) -> dict[str, str]:
    """What is typed beside the buttons, and is no field of the scenario."""
    return {key[1:]: value.strip() for key, value in form.items() if key.startswith("_")}


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


def _kept_again(state: State, argument: str) -> State:
    """A design that was put aside holds again."""
    found = [one.text for one in state.kept if one.name == argument]
    return state.changed(found[0]) if found else state


ACTS: dict[str, Callable[[State, str], State]] = {
    "change": lambda state, _: state,
    "undo": lambda state, _: state.moved(state.at - 1),
    "redo": lambda state, _: state.moved(state.at + 1),
    "go": lambda state, number: state if (to := whole(number)) is None else state.moved(to - state.first),
    "name": lambda state, name: state.named(name),
    "keep": lambda state, name: state.keeping(name),
    "drop": lambda state, name: state.dropping(name),
    "again": _kept_again,
    "take": _taken,
    "add": _with,
    "remove": _without,
}
