"""The page behind the link of a card: the plan made again from the request that was kept, as sheet or theatre list."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, Response

from service.api.answers import NOT_STORED, parts_of
from service.api.audit import asked_by
from service.api.workbench import PAGE_HEADERS, language_of
from service.domain.case import PlanRequest
from service.domain.errors import InvalidCase
from service.sheet.render import write_list_html, write_list_pdf, write_not_kept, write_sheet_html, write_sheet_pdf
from service.storage.audit_entry import Asked
from service.wiring import Parts, PlanReply, answer_plan_request

router = APIRouter(include_in_schema=False)
OPERATION = "plan-page"
#: The page has the usual time to search, also where the card had to be quick.
_SEARCH_SECONDS = PlanRequest.search_seconds


@router.get("/plans/{plan_id}")
async def show_sheet(request: Request) -> Response:
    """The sheet of a plan, with the plan refined where the first one had little time."""
    language = language_of(request)
    return await _show(request, lambda reply: HTMLResponse(
        write_sheet_html(reply.answer, reply.sha256, language), headers=PAGE_HEADERS))


@router.get("/plans/{plan_id}/sheet.pdf")
async def print_sheet(request: Request) -> Response:
    language = language_of(request)
    return await _show(request, lambda reply: _pdf(write_sheet_pdf(reply.answer, reply.sha256, language)))


@router.get("/plans/{plan_id}/theatre-lists/{ordinal:int}")
async def show_list(request: Request) -> Response:
    language, ordinal = language_of(request), request.path_params["ordinal"]
    return await _show(request, lambda reply: HTMLResponse(
        write_list_html(reply.answer, ordinal, reply.sha256, language), headers=PAGE_HEADERS))


@router.get("/plans/{plan_id}/theatre-lists/{ordinal:int}/list.pdf")
async def print_list(request: Request) -> Response:
    language, ordinal = language_of(request), request.path_params["ordinal"]
    return await _show(request, lambda reply: _pdf(
        write_list_pdf(reply.answer, ordinal, reply.sha256, language)))


async def _show(request: Request, draw: Callable[[PlanReply], Response]) -> Response:
    """One form of a kept plan; a page that says so when it is not kept, or no longer."""
    parts, plan_id = parts_of(request), request.path_params["plan_id"]
    asked = replace(asked_by(request), operation=OPERATION)

    def work() -> Response:
        reply = _make_again(parts, plan_id, asked)
        if reply is None or reply.answer is None:
            return _not_kept(request)
        try:
            return draw(reply)
        except KeyError:
            return _not_kept(request)

    return await request.app.state.workload.run(work)


def _make_again(parts: Parts, plan_id: str, asked: Asked) -> PlanReply | None:
    kept = parts.storage.kept_plans.find(plan_id, now=datetime.now(UTC))
    if kept is None:
        return None
    try:
        return answer_plan_request(
            parts, kept.input_body, as_of=datetime.fromisoformat(kept.as_of), asked=asked, keeps=False,
            seconds=max(Decimal(kept.search_seconds), _SEARCH_SECONDS))
    except InvalidCase:
        return None  # the rules of reading have changed since


def _not_kept(request: Request) -> Response:
    return HTMLResponse(write_not_kept(language_of(request)), 404, PAGE_HEADERS)


def _pdf(content: bytes) -> Response:
    return Response(content, media_type="application/pdf", headers=NOT_STORED)
