"""The page's addresses: what each answers."""

import logging
import secrets
import tempfile
from collections.abc import Callable
from functools import partial
from importlib.resources import files
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import quote

import anyio
from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.applications import Starlette
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from sim.browser import print_pdf
from sim.catalogue import template
from sim.errors import InputError
from sim.page.desk import Desk, example_texts
from sim.page.folder import ENDING, fit_name
from sim.page.guard import Guard, report_policy
from sim.page.live import SupersededError
from sim.page.text import whole
from sim.page.view import View, view_of

log = logging.getLogger("sunrill.page")
AT_ONCE = 4  # requests that are worked out side by side
WRONG, SUPERSEDED = 422, 409
PARTS = (
    "said",
    "figures",
    "bars",
    "checks",
    "band",
    "trail",
    "kept",
    "problem",
    "map",
    "studies",
)  # what a change may change
_TYPES = {"css": "text/css", "js": "text/javascript"}
Made = TypeVar("Made")


def _rooms() -> Environment:
    rooms = Environment(
        loader=PackageLoader("sim.page"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip
    rooms.filters["quoted"] = partial(quote, safe="")
    return rooms


ROOMS = _rooms()


def _page(name: str, status: int = 200, **given: Any) -> HTMLResponse:
    return HTMLResponse(ROOMS.get_template(f"{name}.html.j2").render(**given), status)


def _desk(request: Request) -> Desk:
    return request.app.state.desk  # type: ignore[no-any-return]


async def _worked(request: Request, work: Callable[..., Made], *given: Any) -> Made:
    """Work in a thread of its own, a few at once."""
    return await anyio.to_thread.run_sync(partial(work, *given), limiter=request.app.state.limit)


async def _form(request: Request) -> dict[str, str]:
    async with request.form(max_files=1, max_fields=4000) as form:
        return {key: value for key, value in form.multi_items() if isinstance(value, str)}


def _address(name: str) -> str:
    return f"/system/{quote(name, safe='')}"


async def begin(request: Request) -> Response:
    """What was last open, the folder's scenarios, the examples, a new one."""
    desk = _desk(request)
    names, latest = await _worked(request, desk.folder.names), await _worked(request, desk.folder.latest)
    return _page("begin", names=names, latest=latest, examples=sorted(example_texts()), root=str(desk.folder.root))


async def begun(request: Request) -> Response:
    """A new scenario, from an example or from the commented one."""
    form = await _form(request)
    example = form.get("example", "")
    text = example_texts().get(example) or template()
    name = await _worked(request, _desk(request).begin, form.get("name") or example or "pond", text)
    return RedirectResponse(_address(name), 303)


async def uploaded(request: Request) -> Response:
    """A scenario or a weather file into the folder; nothing that is there is replaced."""
    async with request.form(max_files=1, max_fields=10) as form:
        file = form.get("file")
        if not isinstance(file, UploadFile) or not file.filename:
            raise InputError("the page", "file", None, "a file")
        name = await _worked(request, _received, _desk(request), file.filename, await file.read())
    return RedirectResponse(_address(name) if name else "/", 303)


def _received(desk: Desk, filename: str, content: bytes) -> str:
    """Take a file in; the name of the scenario that it is, empty for weather."""
    name = fit_name(filename.replace("\\", "/").rpartition("/")[2])
    if name.endswith(ENDING):
        try:
            return desk.begin(name.removesuffix(ENDING), content.decode("utf-8-sig"))
        except UnicodeDecodeError:
            raise InputError(name, "", None, "a scenario in UTF-8") from None
    from sim.files import write_bytes

    path = desk.folder.inside(name)
    if path.exists():
        raise InputError(name, "", None, "a name that is not taken yet")
    write_bytes(path, content)
    return ""


async def system(request: Request) -> Response:
    """A scenario with its fields and its answer."""
    return await _shown(request, request.path_params["name"])


async def _shown(request: Request, name: str, status: int = 200, wrong: InputError | None = None) -> Response:
    desk = _desk(request)
    view = await _worked(request, lambda: view_of(desk, name, desk.store.open(name)))
    return _page(
        "system", status, view=view, wrong=str(wrong) if wrong else "", parts=ROOMS.get_template("parts.html.j2")
    )


async def acted(request: Request) -> Response:
    """What a form asks for, then the page again; to the page's own script only what has changed."""
    desk, name = _desk(request), request.path_params["name"]
    form = await _form(request)
    try:
        state = await _worked(request, desk.act, name, form)
    except InputError as wrong:
        if _scripted(request):
            return JSONResponse({"wrong": str(wrong)}, WRONG)
        return await _shown(request, name, WRONG, wrong)
    if not _scripted(request):
        return RedirectResponse(_address(name), 303)
    return JSONResponse(_changes(await _worked(request, view_of, desk, name, state, desk.turns.take(name))))


async def answer(request: Request) -> Response:
    """What may change, for the page's own script."""
    desk, name = _desk(request), request.path_params["name"]
    view = await _worked(request, lambda: view_of(desk, name, desk.store.open(name)))
    return JSONResponse(_changes(view))


def _scripted(request: Request) -> bool:
    return request.headers.get("x-sunrill") == "changes"


def _changes(view: View) -> dict[str, Any]:
    """The parts that a change may change, and every field's value, default and error."""
    module: Any = ROOMS.get_template("parts.html.j2").module
    return {
        "ready": view.ready,
        "busy": view.busy,
        "serial": view.state.serial,
        "parts": {name: str(getattr(module, name)(view)) for name in PARTS},
        "fields": {key: [it.value, it.default, it.error] for key, it in view.values.items()},
        "handles": {handle.key: handle.value for handle in view.handles},
    }


async def scenario_file(request: Request) -> Response:
    """The scenario as a file."""
    desk, name = _desk(request), request.path_params["name"]
    state = await _worked(request, desk.store.open, name)
    return _file(state.text, "application/toml", f"{name}{ENDING}")


def _file(content: str | bytes, kind: str, name: str) -> Response:
    """Something to be kept as a file."""
    return Response(
        content, media_type=kind, headers={"Content-Disposition": f"attachment; filename*=UTF-8''{quote(name)}"}
    )


def _report(request: Request) -> tuple[str, str]:
    """A report of a study by its numbers: its file name and its HTML; 404 where there is none."""
    number, place = whole(request.path_params["number"]), whole(request.path_params["place"])
    job = _desk(request).jobs.numbered(number)
    reports = list(job.reports.items()) if job else []
    if place is None or place >= len(reports):
        raise HTTPException(404, "This report is not remembered any more; ask for the study again.")
    return reports[place]


async def report(request: Request) -> Response:
    """A report to be read; its own scripts run, known by their hashes, and reach nothing."""
    return HTMLResponse(html := _report(request)[1], headers={"Content-Security-Policy": report_policy(html)})


async def report_file(request: Request) -> Response:
    """A report to be kept."""
    name, html = _report(request)
    return _file(html, "text/html", name)


async def report_pdf(request: Request) -> Response:
    """A report printed, where Chromium is installed."""
    name, html = _report(request)
    printed = await _worked(request, _printed, html)
    return _file(printed, "application/pdf", f"{name.removesuffix('.html')}.pdf")


def _printed(html: str) -> bytes:
    with tempfile.TemporaryDirectory(prefix="sunrill-") as place:
        pdf = Path(place) / "report.pdf"
        print_pdf(html, pdf, "a4")
        return pdf.read_bytes()


async def look(request: Request) -> Response:
    """The style sheets and the script."""
    name = request.path_params["name"]
    places = {
        "report.css": files("sim.report").joinpath("style.css"),
        "page.css": files("sim.page").joinpath("static/page.css"),
        "page.js": files("sim.page").joinpath("static/page.js"),
    }
    if name not in places:
        return PlainTextResponse("There is no such file.", 404)
    return Response(places[name].read_text("utf-8"), media_type=_TYPES[name.rpartition(".")[2]])


async def on_wrong_input(request: Request, wrong: Exception) -> Response:
    """A page with the sentence that the command line would print."""
    return _page("error", WRONG, title="That cannot be used", words=str(wrong), number="")


async def on_superseded(request: Request, newer: Exception) -> Response:
    """A short word to a tab that has sent a newer change since."""
    return PlainTextResponse("A newer change came.", SUPERSEDED)


async def on_defect(request: Request, defect: Exception) -> Response:
    """A sentence and a number; the traceback stands in the log under it."""
    number = secrets.token_hex(4)
    log.error("defect %s at %s", number, request.url.path, exc_info=defect)
    return _page("error", 500, title="Something went wrong", words="This is a defect of the program.", number=number)


ROUTES = [
    Route("/", begin),
    Route("/begin", begun, methods=["POST"]),
    Route("/upload", uploaded, methods=["POST"]),
    Route("/look/{name}", look),
    Route("/system/{name}", system),
    Route("/system/{name}", acted, methods=["POST"]),
    Route("/system/{name}/answer", answer),
    Route("/system/{name}/file", scenario_file),
    Route("/report/{number}/{place}", report),
    Route("/report/{number}/{place}/file", report_file),
    Route("/report/{number}/{place}/pdf", report_pdf),
]


def application(desk: Desk) -> Guard:
    """The page, with its guard before it."""
    handlers: Any = {InputError: on_wrong_input, SupersededError: on_superseded, Exception: on_defect}
    app = Starlette(routes=ROUTES, exception_handlers=handlers)
    app.state.desk = desk
    app.state.limit = anyio.CapacityLimiter(AT_ONCE)
    return Guard(app, desk.keys)
