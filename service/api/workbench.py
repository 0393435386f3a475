"""The workbench: try a record in a browser. Every answer is a page that carries the record; nothing is kept here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from starlette.responses import FileResponse, HTMLResponse, Response

from service import __version__
from service.api.answers import NOT_STORED, parts_of
from service.api.audit import asked_by
from service.api.carried_record import pack_record, unpack_record
from service.api.progress_stream import follow, wants_progress
from service.api.transport_faults import TransportFault
from service.api.workbench_edit import InputFault, apply_changes
from service.api.workbench_form import Form, read_form
from service.domain.done_session import DoneSession
from service.domain.errors import InvalidCase, ServiceFault
from service.domain.search_news import SearchStep, SearchWatch
from service.fhir.edit_request import RequestEditor
from service.fhir.json_text import dump, read_json
from service.fhir.read_result import ReadResult
from service.fhir.read_text import read_in_words, word_fault
from service.fhir.write_done_session import write_done_session
from service.settings import Settings
from service.sheet.done_form import DoneFault, read_done_form, word_done_fault
from service.sheet.inputs import present_inputs
from service.sheet.render import (
    STATIC,
    read_style,
    sheet_style,
    write_list_pdf,
    write_sheet_html,
    write_sheet_pdf,
    write_workbench,
)
from service.sheet.workbench_page import ReadPart, WorkbenchPage, make_result, present_progress
from service.storage.audit_entry import Asked
from service.wiring import Parts, PlanReply, answer_plan_request, answer_read_request, examine_before_plan
from service.wording.languages import N_, Language, Words, languages

router = APIRouter(include_in_schema=False)
SAMPLES = Path(__file__).parents[2] / "shared" / "samples"
#: No script but ours, nothing from elsewhere; charts carry their own style attributes.
PAGE_HEADERS = {
    **NOT_STORED,
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"),
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}
_AFTER_SESSION = time(18)


@dataclass(frozen=True)
class Bench:
    """What the pages plan with: the parts, who asks, and who waits. What is read or planned here is never kept."""

    parts: Parts
    asked: Asked
    watch: SearchWatch

    @property
    def settings(self) -> Settings:
        return self.parts.settings

    def read(self, body: bytes) -> ReadResult:
        return answer_read_request(self.parts, body, asked=self.asked).read

    def examine(self, body: bytes) -> ReadResult:
        """A record that is changed and then planned: the plan leaves the row of the press."""
        return examine_before_plan(self.parts, body)

    def plan(self, body: bytes) -> PlanReply:
        return answer_plan_request(self.parts, body, asked=self.asked, keeps=False, watch=self.watch)

    def plan_before(self, body: bytes) -> PlanReply:
        """The record as it was, planned to compare with."""
        self.watch.step_on(SearchStep.EARLIER)
        return answer_plan_request(self.parts, body, asked=self.asked, keeps=False)


@router.get("/")
async def home(request: Request) -> Response:
    """The page; where tokens are asked for, a browser has none to send, and the page says so."""
    return _show(request, WorkbenchPage(is_closed=parts_of(request).settings.are_tokens_asked_for))


@router.get("/workbench/style.css")
async def style() -> Response:
    return Response(sheet_style() + read_style("workbench.css"), media_type="text/css",
                    headers={"Cache-Control": "max-age=3600"})


@router.get("/workbench/workbench.js")
async def script() -> Response:
    return FileResponse(STATIC / "workbench.js", headers={"Cache-Control": "max-age=3600"})


@router.post("/workbench/read")
async def read(request: Request) -> Response:
    """A sample or a file, read and shown."""
    form, _ = await read_form(request), _words(request)
    sample = form.fields.get("sample", "")
    if form.file:
        body, sample = form.file, ""
    elif sample in sample_names():
        body = (SAMPLES / f"{sample}.json").read_bytes()
    else:
        return _show(request, WorkbenchPage(problem=[_("Choose a sample or a file.")]), 400)
    return await _in_workload(request, lambda bench: _read_page(bench, body, sample, request))


@router.post("/workbench/plan")
async def plan(request: Request) -> Response:
    """The record with its changes, planned, beside the plan before."""
    form = await read_form(request)
    return await _in_progress(request, lambda bench: _or_as_typed(_plan_page, bench, form, request))


@router.post("/workbench/done")
async def done(request: Request) -> Response:
    """The numbers of a session, for the record or for the next plan."""
    form = await read_form(request)
    if form.fields.get("then") == "download":
        return await _in_workload(request, lambda bench: _or_as_typed(_download_done, bench, form, request))
    return await _in_progress(request, lambda bench: _or_as_typed(_replan_page, bench, form, request))


@router.post("/workbench/download")
async def download(request: Request) -> Response:
    form = await read_form(request)
    return await _in_workload(request, lambda bench: _write_download(bench, form, language_of(request)))


@cache
def sample_names() -> tuple[str, ...]:
    """The samples that are shipped; none where the package is installed without them."""
    return tuple(sorted(path.stem for path in SAMPLES.glob("*.json")))


def language_of(request: Request) -> Language:
    """The language asked for if the site has switched it on, else English."""
    offered = offered_languages(parts_of(request).settings)
    return next((one for one in offered if one.code == request.query_params.get("language")), offered[0])


def offered_languages(settings: Settings) -> tuple[Language, ...]:
    """English and what the site has switched on."""
    return tuple(one for one in languages().values() if one.reviewed or one.code in settings.languages)


async def _in_progress(request: Request, work: Callable[[Bench], WorkbenchPage]) -> Response:
    """As ``_in_workload``, for a plan: a page that asks for it hears how far it has come."""
    if not wants_progress(request):
        return await _in_workload(request, work)
    watch, language = SearchWatch(), language_of(request)
    return await follow(
        request, _in_workload(request, work, watch), watch, lambda news: present_progress(news, language))


async def _in_workload(
    request: Request, work: Callable[[Bench], Response | WorkbenchPage], watch: SearchWatch | None = None,
) -> Response:
    """Work off the event loop; what goes wrong is shown on the page, never what was sent."""
    _, bench = _words(request), Bench(parts_of(request), asked_by(request), watch or SearchWatch())
    try:
        made = await request.app.state.workload.run(lambda: work(bench))
    except InvalidCase as invalid:
        return _show(request, WorkbenchPage(faults=[word_fault(fault) for fault in invalid.faults]), 422)
    except (ValueError, KeyError):
        problem = _("What was sent is not a request that can be changed.")
        return _show(request, WorkbenchPage(problem=[problem]), 422)
    except ServiceFault:
        return _show(request, WorkbenchPage(problem=[_("The service failed; no plan was made.")]), 503)
    except TransportFault as fault:
        if fault.error_id != "busy":
            raise
        return _show(request, WorkbenchPage(problem=[_("Too many plans are being made. Try again.")]), 429)
    return made if isinstance(made, Response) else _show(request, made, 422 if made.problem or made.faults else 200)


def _or_as_typed(
    work: Callable[[Bench, Form, Request], Response | WorkbenchPage], bench: Bench, form: Form, request: Request,
) -> Response | WorkbenchPage:
    """What the work makes; where that cannot be used, the page as it was filled in, and what is wrong with it."""
    try:
        return work(bench, form, request)
    except (InputFault, DoneFault) as fault:
        problem, faults = [_word(fault, _words(request))], []
    except InvalidCase as invalid:
        problem, faults = [], [word_fault(fault) for fault in invalid.faults]
    shown = _page_of if "done-day" in form.fields else _shown_before_planning
    page = shown(bench, _carried(bench, form), None, request)
    return replace(page, problem=problem, faults=faults, typed=form.fields)


def _shown_before_planning(bench: Bench, body: bytes, before: bytes | None, request: Request) -> WorkbenchPage:
    return _read_page(bench, body, "", request)


def _word(fault: InputFault | DoneFault, _: Words) -> str:
    if isinstance(fault, DoneFault):
        return word_done_fault(fault, _)
    return _("This field cannot be read: {field}.", field=_(str(fault)))


def _words(request: Request) -> Words:
    return Words(language_of(request))


def _show(request: Request, page: WorkbenchPage, status: int = 200) -> Response:
    parts, root = parts_of(request), request.scope.get("root_path", "")
    html = write_workbench(
        page, language_of(request), root=root, samples=sample_names(), version=__version__,
        evidence=parts.evidence.version, languages=offered_languages(parts.settings))
    return HTMLResponse(html, status, PAGE_HEADERS)


def _read_page(bench: Bench, body: bytes, sample: str, request: Request) -> WorkbenchPage:
    return _page_of_read(bench.read(body), body, sample, request)


def _page_of_read(read: ReadResult, body: bytes, sample: str, request: Request) -> WorkbenchPage:
    return WorkbenchPage(
        record=pack_record(body), sample=sample, curl=_curl(request), read=ReadPart(**read_in_words(read)),
        as_of=read.request.as_of.isoformat() if read.request else "",
        inputs=present_inputs(read.record, read.request, _words(request))
        if read.record and read.request else None)


def _plan_page(bench: Bench, form: Form, request: Request) -> WorkbenchPage:
    before = _carried(bench, form, "before") if form.fields.get("before") else None
    changed = _apply(bench, _carried(bench, form), form)
    return _page_of(bench, changed, before, request)


def _carried(bench: Bench, form: Form, name: str = "record") -> bytes:
    """The record that the page has carried. Raises ``ValueError`` when it is not one of ours."""
    return unpack_record(form.fields.get(name, ""), bench.settings.max_body_bytes)


def _apply(bench: Bench, record: bytes, form: Form) -> bytes:
    read = bench.examine(record)
    if read.request is None:
        raise InvalidCase(read.faults)
    return dump(apply_changes(read, read_json(record), form.fields, bench.settings.canonical_base))


def _page_of(bench: Bench, body: bytes, before: bytes | None, request: Request) -> WorkbenchPage:
    reply = bench.plan(body)
    page = _page_of_read(reply.read, body, "", request)
    if reply.answer is None:
        return page
    earlier = bench.plan_before(before).answer if before else None
    return replace(page, result=make_result(reply.answer, earlier, _words(request)))


def _noted(
    bench: Bench, form: Form, read_record: Callable[[bytes], ReadResult],
) -> tuple[DoneSession, RequestEditor, ReadResult]:
    """The notes of a session, and the record that they belong to."""
    fields = {name: text for name, text in form.fields.items() if name not in ("record", "then", "done-day")}
    try:
        day = date.fromisoformat(form.fields.get("done-day", "").strip())
    except ValueError:
        raise InputFault(N_("day of the session")) from None
    body = _carried(bench, form)
    read = read_record(body)
    if read.request is None:
        raise InvalidCase(read.faults)
    editor = RequestEditor(read_json(body), read.request.as_of, bench.settings.canonical_base)
    return read_done_form(fields, day), editor, read


def _replan_page(bench: Bench, form: Form, request: Request) -> WorkbenchPage:
    """The record with the notes, planned as of the evening of the session."""
    noted, editor, read = _noted(bench, form, bench.examine)
    editor.add_session(noted)
    evening = datetime.combine(noted.day, _AFTER_SESSION, ZoneInfo(read.request.time_zone))
    editor.set_parameter("as-of", {"valueInstant": max(evening, read.request.as_of).isoformat()})
    return _page_of(bench, dump(editor.request), _carried(bench, form), request)


def _download_done(bench: Bench, form: Form, request: Request) -> Response:
    noted, editor, _ = _noted(bench, form, bench.read)
    bundle = write_done_session(noted, editor.subject, bench.settings.canonical_base)
    return _attach(dump(bundle, indent=True), f"session-{noted.day}.json", "application/fhir+json")


def _write_download(bench: Bench, form: Form, language: Language) -> Response:
    """One form of the answer, as a file."""
    body, wanted, _ = _carried(bench, form), form.fields.get("form", ""), Words(language)
    if wanted == "request.json":
        return _attach(dump(read_json(body), indent=True), wanted, "application/fhir+json")
    reply = bench.plan(body)
    if wanted == "answer.json":
        return _attach(dump(reply.resource, indent=True), wanted, "application/fhir+json")
    if wanted == "answer.txt":
        return _attach(reply.text.encode(), wanted, "text/plain; charset=utf-8")
    if reply.answer is None:
        return WorkbenchPage(problem=[_("The record lacks what planning needs, so there is no sheet.")])
    return _write_sheet(reply, wanted, language)


def _write_sheet(reply: PlanReply, wanted: str, language: Language) -> Response:
    told = reply.answer, reply.sha256, language
    if wanted == "sheet.html":
        return HTMLResponse(write_sheet_html(*told), headers=PAGE_HEADERS)
    if wanted == "sheet.pdf":
        return _attach(write_sheet_pdf(*told), wanted, "application/pdf")
    ordinal = wanted.removeprefix("list-").removesuffix(".pdf")
    if not ordinal.isdigit():
        raise ValueError("no such form")
    return _attach(write_list_pdf(reply.answer, int(ordinal), reply.sha256, language), wanted, "application/pdf")


def _attach(content: bytes, name: str, media_type: str) -> Response:
    return Response(content, media_type=media_type, headers={
        **NOT_STORED, "Content-Disposition": f'attachment; filename="{name}"'})


def _curl(request: Request) -> str:
    return (
        f"curl -s -H 'Content-Type: application/fhir+json' -H 'Accept: text/plain' --data-binary @request.json "
        f"'{str(request.base_url).rstrip('/')}/fhir/$plan-grafts'")
