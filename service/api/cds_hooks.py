"""The CDS Hooks endpoint: discovery, the services, and what readers report about their cards."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from service import __version__
from service.answer_hook import HookCall
from service.answer_order import services_of
from service.api import openapi_hooks as described
from service.api.answers import NOT_STORED, form_for, parts_of, write_resource
from service.api.audit import asked_by, note_body
from service.api.request_body import read_body
from service.api.transport_faults import TransportFault
from service.ehr_client.fetch import open_record
from service.fhir.codes import load_code_map
from service.fhir.hook_services import HookService, write_discovery
from service.fhir.read_feedback import read_feedback
from service.fhir.read_hook import read_hook_request
from service.storage.audit_entry import describe_cards, describe_feedback

router = APIRouter(prefix="/cds-services", tags=["decision support hooks"])
JSON = "application/json"


@router.get("", **described.DISCOVERY)
async def discover(request: Request) -> Response:
    settings = parts_of(request).settings
    services = [service for service, _ in services_of(settings).values()]
    return write_resource(request, write_discovery(services, settings.canonical_base), _form(request))


@router.post("/{service_id}", **described.CALL)
async def call(request: Request) -> Response:
    (service, answer), form = _service_of(request), _form(request)
    body = await read_body(request)
    note_body(request, body)
    parts, pages = parts_of(request), _plan_pages(request)

    def write() -> Response:
        called = read_hook_request(body, service.hook)
        hook_call = HookCall(parts, service, called, asked_by(request), open_record(parts.settings, called), pages)
        cards = answer(hook_call)
        response = write_resource(request, {"cards": cards}, form)
        parts.storage.trail.append(describe_cards(
            hook_call.asked, [card["uuid"] for card in cards], body, response.body, software=__version__))
        return response

    return await request.app.state.workload.run(write)


@router.post("/{service_id}/feedback", **described.FEEDBACK)
async def feedback(request: Request) -> Response:
    _service_of(request)
    body = await read_body(request)
    note_body(request, body)
    parts = parts_of(request)
    reports = read_feedback(body, load_code_map(parts.settings.canonical_base))

    def keep() -> Response:
        for report in reports:
            is_known = parts.storage.card_feedback.add(report)
            parts.storage.trail.append(describe_feedback(
                asked_by(request), report, is_known=is_known, software=__version__))
        return Response(status_code=200, headers=NOT_STORED)

    return await request.app.state.workload.run(keep)


def _plan_pages(request: Request) -> str | None:
    """Where plan pages lie, if requests are kept; the address that callers use, where the site has said it."""
    settings = parts_of(request).settings
    base = settings.public_base or str(request.base_url).rstrip("/")
    return f"{base}/plans" if settings.keep_plan_hours else None


def _form(request: Request) -> str:
    return form_for(request, (JSON,))


def _service_of(request: Request) -> tuple[HookService, object]:
    """The service that the address names. Raises ``TransportFault`` (404)."""
    try:
        return services_of(parts_of(request).settings)[request.path_params["service_id"]]
    except KeyError:
        raise TransportFault("service-not-found") from None
