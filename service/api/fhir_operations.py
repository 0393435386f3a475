"""The FHIR endpoint: two operations, what it says about itself, and its conformance resources."""

from __future__ import annotations

from collections.abc import Callable

from fastapi import APIRouter, Request, Response
from starlette.responses import PlainTextResponse

from service.api import openapi_operations as described
from service.api.answers import FORM_PARAMETERS, NOT_STORED, FhirResponse, form_for, parts_of, write_resource
from service.api.audit import asked_by, note_body
from service.api.conformance import RESOURCE_TYPES, entity_tag, is_current
from service.api.media_types import JSON_FORMS, TEXT
from service.api.request_body import read_body
from service.api.security import allowed_patient
from service.wiring import (
    PlanReply,
    ReadReply,
    answer_plan_request,
    answer_read_request,
    state_capabilities,
    state_versions,
)

router = APIRouter(prefix="/fhir", default_response_class=FhirResponse)
ANSWER_FORMS = (*JSON_FORMS, TEXT)
SEARCH_PARAMETERS = FORM_PARAMETERS | {"url"}


@router.post("/$plan-grafts", **described.PLAN_GRAFTS)
async def plan_grafts(request: Request) -> Response:
    return await _answer(request, answer_plan_request)


@router.post("/$read-burn-record", **described.READ_BURN_RECORD)
async def read_burn_record(request: Request) -> Response:
    return await _answer(request, answer_read_request)


@router.get("/$versions", **described.VERSIONS)
async def versions(request: Request) -> Response:
    return write_resource(request, state_versions(), form_for(request))


@router.get("/metadata", **described.METADATA)
async def metadata(request: Request) -> Response:
    return _write_unless_held(request, state_capabilities(parts_of(request), RESOURCE_TYPES), form_for(request))


def _write_unless_held(request: Request, resource: dict, form: str) -> Response:
    """A conformance resource with its tag: 304 to who holds it, and it may be kept if asked about."""
    tag = entity_tag(resource)
    headers = {"ETag": tag, "Cache-Control": "no-cache"}
    if is_current(tag, request.headers.get("if-none-match")):
        return Response(status_code=304, headers=headers)
    return write_resource(request, resource, form, headers=headers)


def _add_conformance_routes(resource_type: str) -> None:
    """Read and search of one type."""

    @router.get(f"/{resource_type}/{{resource_id}}", **described.read_of(resource_type))
    async def read(request: Request) -> Response:
        form, resource_id = form_for(request), request.path_params["resource_id"]
        return _write_unless_held(request, request.app.state.conformance.read(resource_type, resource_id), form)

    @router.get(f"/{resource_type}", **described.search_of(resource_type))
    async def search(request: Request) -> Response:
        form, criteria = form_for(request, known=SEARCH_PARAMETERS), dict(request.query_params)
        return write_resource(request, request.app.state.conformance.search(resource_type, criteria), form)


for _type in RESOURCE_TYPES:
    _add_conformance_routes(_type)


async def _answer(request: Request, answer: Callable[..., PlanReply | ReadReply]) -> Response:
    """One path for both operations, made off the event loop and written in the form asked for."""
    form, body, parts = form_for(request, ANSWER_FORMS), await read_body(request), parts_of(request)
    note_body(request, body)
    request.app.state.idempotency_keys.require_same(
        request.headers.get("idempotency-key"), request.url.path, body)

    def write() -> Response:
        reply = answer(parts, body, asked=asked_by(request), only_patient=allowed_patient(request))
        if form == TEXT:
            return PlainTextResponse(reply.text, headers=NOT_STORED)
        return write_resource(request, reply.resource, form)

    return await request.app.state.workload.run(write)
