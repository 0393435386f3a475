"""What the interactive page says about each address: bodies, answers, and every error status."""

from __future__ import annotations

from service.api.errors import describe_error
from service.api.media_types import FHIR_JSON, TEXT
from service.api.openapi_examples import (
    conformance_example,
    data_required_example,
    example_request,
    read_report_example,
    search_example,
    versions_example,
)
from service.api.transport_faults import TransportFault
from service.fhir.canonical import DEFAULT_CANONICAL_BASE
from service.fhir.faults import refuse
from service.fhir.smart_configuration import write_smart_configuration

UNKNOWN_UNIT = "Bundle.entry[2].resource.value.code"
#: For each status what it means, and an error that has it: the example is what that error leaves as.
_ERRORS = {
    400: ("Not JSON, or not FHIR R4", refuse("not-json", "")),
    401: ("No token, or one that is not accepted; only where tokens are asked for", TransportFault("token-refused")),
    403: ("The token does not allow this; only where tokens are asked for", TransportFault("scope-insufficient")),
    404: ("Nothing with this id", TransportFault("resource-not-found")),
    406: ("No form of the answer is acceptable", TransportFault("answer-not-acceptable")),
    408: ("Body too slow", TransportFault("body-too-slow")),
    409: ("Idempotency-Key used for another request", TransportFault("idempotency-key-reused")),
    412: ("A part of the record is missing", refuse("prefetch-missing", "prefetch.wounds", key="wounds")),
    413: ("Body too large", TransportFault("body-too-large", cap=8_000_000)),
    415: ("Body not declared as FHIR R4 JSON in UTF-8", TransportFault("media-type-not-supported")),
    422: ("Contradictory, unreadable or impossible: every fault is named",
          refuse("unit-unknown", UNKNOWN_UNIT, allowed="kg, g, [lb_av]")),
    500: ("The service failed", TransportFault("service-fault")),
    429: ("Too many plans are being made; see Retry-After", TransportFault("busy")),
    503: ("No plan passed verification, or the answer cannot be recorded", TransportFault("plan-withheld")),
}


def describe_errors(*statuses: int) -> dict[int, dict]:
    """Each status with its meaning and an error that has it."""
    return {status: _error(*_ERRORS[status]) for status in statuses}


def _error(description: str, error: Exception) -> dict:
    _, outcome, _ = describe_error(error, DEFAULT_CANONICAL_BASE)
    content = {"schema": {"$ref": "#/components/schemas/OperationOutcomeAnswer"}, "example": outcome}
    return {"description": description, "content": {FHIR_JSON: content}}


def _answer(name: str, description: str, example: dict) -> dict[int, dict]:
    content = {FHIR_JSON: {"schema": {"$ref": f"#/components/schemas/{name}Answer"}, "example": example}}
    return {200: {"description": description, "content": content}}


def _operation(summary: str, description: str, answer: dict[int, dict]) -> dict:
    answer[200]["content"][TEXT] = {"schema": {"type": "string"}}
    body = {"schema": {"$ref": "#/components/schemas/PlanRequest"}, "example": example_request()}
    return {
        "summary": summary,
        "description": description,
        "tags": ["operations"],
        "openapi_extra": {"requestBody": {"required": True, "content": {FHIR_JSON: body}}},
        "responses": {**answer, **describe_errors(400, 401, 403, 406, 408, 409, 413, 415, 422, 429, 500, 503)},
    }


PLAN_GRAFTS = _operation(
    "Plan the whole course of grafting",
    "Takes a burn record as a Bundle, or Parameters around one, and answers with a draft plan for a "
    "clinician to review. When the record lacks something that planning needs, the answer is 200 with a "
    "GuidanceResponse `data-required` and no CarePlan. `Accept: text/plain` gives the plan to read.",
    _answer(
        "Bundle", "The plan, CarePlan first; or, as in the example, what is missing for one", data_required_example()))
READ_BURN_RECORD = _operation(
    "Read a record without planning",
    "Dry run: what was understood, what was set aside, what is missing or wrong. "
    "`Accept: text/plain` gives the report to read.",
    _answer("Parameters", "The reading of the record", read_report_example()))
VERSIONS = {
    "summary": "FHIR versions spoken here", "tags": ["capabilities"],
    "responses": {**_answer("Parameters", "Versions", versions_example()), **describe_errors(400, 406)}}
_HELD = {304: {"description": "`If-None-Match` names the tag of what would be sent"}}
METADATA = {
    "summary": "What this endpoint can do", "tags": ["capabilities"],
    "responses": {
        **_answer("CapabilityStatement", "CapabilityStatement", conformance_example("CapabilityStatement")),
        **_HELD, **describe_errors(400, 406)}}


def read_of(resource_type: str) -> dict:
    return {
        "summary": f"Read one {resource_type}", "tags": ["conformance"],
        "openapi_extra": {"parameters": [{
            "name": "resource_id", "in": "path", "required": True,
            "schema": {"type": "string", "pattern": r"^[A-Za-z0-9.-]{1,64}$"}}]},
        "responses": {
            **_answer("Conformance", resource_type, conformance_example(resource_type)),
            **_HELD, **describe_errors(400, 404, 406)}}


def search_of(resource_type: str) -> dict:
    return {
        "summary": f"Find {resource_type} by canonical url", "tags": ["conformance"],
        "openapi_extra": {"parameters": [{
            "name": "url", "in": "query", "required": False, "schema": {"type": "string", "format": "uri"},
            "description": "Canonical URL; all of the type when absent"}]},
        "responses": {**_answer("Bundle", "A searchset", search_example(resource_type)), **describe_errors(400, 406)}}


def _plain(summary: str, description: str, example: dict) -> dict:
    content = {"application/json": {"schema": {"type": "object"}, "example": example}}
    return {
        "summary": summary, "tags": ["capabilities"],
        "responses": {200: {"description": description, "content": content}, **describe_errors(404)}}


SMART_CONFIGURATION = _plain(
    "Where to get a token", "SMART configuration; 404 where no tokens are asked for",
    write_smart_configuration("https://login.example.org/token"))
OWN_KEYS = _plain(
    "Key that this service signs with when it calls back to the record",
    "JWKS; 404 where it has none", {"keys": [{"kty": "EC", "crv": "P-384", "kid": "2026", "use": "sig"}]})
