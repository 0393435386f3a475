"""Answers on the wire: a resource or an error, in the form that the caller asked for."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.types import Scope

from service.api.audit import note_errors
from service.api.errors import describe_error, error_ids_of
from service.api.media_types import FHIR_JSON, JSON_FORMS, choose_form, is_strict
from service.api.transport_faults import TransportFault
from service.fhir.json_text import dump
from service.wiring import Parts

NOT_STORED = {"Cache-Control": "no-store"}
#: Parameters that speak of the form of an answer, not of what is asked for.
FORM_PARAMETERS = frozenset({"_format", "_pretty"})


class FhirResponse(JSONResponse):
    """The form of an answer that is described when no other is asked for."""

    media_type = FHIR_JSON


def parts_of(request: Request) -> Parts:
    return request.app.state.parts


def form_for(
    request: Request, offered: tuple[str, ...] = JSON_FORMS, known: frozenset[str] = FORM_PARAMETERS,
) -> str:
    """The form to answer in.

    Raises ``TransportFault``: 406; 400 for a parameter that is not known, when the caller
    prefers to be told (``Prefer: handling=strict``).
    """
    if is_strict(request.headers.get("prefer")) and set(request.query_params) - known:
        raise TransportFault("query-parameter-unknown")
    return choose_form(request.headers.get("accept"), request.query_params.get("_format"), offered)


def write_resource(
    request: Request, resource: dict, form: str, status: int = 200, headers: dict[str, str] | None = None,
) -> Response:
    """A resource as JSON, indented when ``_pretty`` is asked for."""
    body = dump(resource, indent=request.query_params.get("_pretty") == "true")
    return Response(body, status, {**NOT_STORED, **(headers or {})}, f"{form}; charset=utf-8")


def write_error(scope: Scope, error: Exception) -> Response:
    """An error as an OperationOutcome; who accepts no JSON gets FHIR JSON all the same."""
    request = Request(scope)
    note_errors(scope, error_ids_of(error))
    status, outcome, headers = describe_error(error, parts_of(request).settings.canonical_base)
    try:
        form = form_for(request)
    except TransportFault:
        form = FHIR_JSON
    return write_resource(request, outcome, form, status, headers)
