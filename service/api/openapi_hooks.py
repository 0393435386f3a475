"""What the interactive page says about the CDS Hooks addresses."""

from __future__ import annotations

from service.api.openapi_operations import describe_errors
from service.fhir.canonical import DEFAULT_CANONICAL_BASE
from service.fhir.hook_services import GRAFT_ORDER, GRAFT_PLAN, write_discovery
from service.fhir.write_cards import write_override_reasons

JSON = "application/json"
_INSTANCE = "d1577c69-dfbe-44ad-ba6d-3e05e953b2ea"
_CARD = "0f8fad5b-d9cb-469f-a165-70867728950e"
_TEXT = {"type": "string", "minLength": 1, "pattern": r"\S"}
_UUID = {"type": "string", "format": "uuid"}
_ID = {"parameters": [{
    "name": "service_id", "in": "path", "required": True,
    "schema": {"type": "string", "pattern": r"^[a-z-]{1,64}$"}}]}
_CODE = {"type": "string", "pattern": "^[A-Za-z0-9._-]{1,64}$"}
_RESOURCE = {"type": "object", "properties": {"resourceType": {"type": "string"}}, "required": ["resourceType"]}


def _object(properties: dict, *required: str) -> dict:
    return {"type": "object", "properties": properties, "required": list(required)}


def _answer(description: str, schema: dict, example: dict) -> dict:
    return {200: {"description": description, "content": {JSON: {"schema": schema, "example": example}}}}


def _body(schema: dict, example: dict) -> dict:
    return {"requestBody": {"required": True, "content": {JSON: {"schema": schema, "example": example}}}}


_CALL_SCHEMA = _object(
    {
        "hook": {"enum": [GRAFT_PLAN.hook, GRAFT_ORDER.hook]},
        "hookInstance": _UUID,
        "fhirServer": {"type": "string", "format": "uri"},
        "fhirAuthorization": _object({"access_token": _TEXT}, "access_token"),
        "context": _object({"userId": _TEXT, "patientId": _TEXT}, "userId", "patientId"),
        "prefetch": {"type": "object", "additionalProperties": {"anyOf": [{"type": "null"}, _RESOURCE]}},
    },
    "hook", "hookInstance", "context") | {"dependentRequired": {"fhirAuthorization": ["fhirServer"]}}
_CALL_EXAMPLE = {
    "hook": GRAFT_PLAN.hook,
    "hookInstance": _INSTANCE,
    "context": {"userId": "Practitioner/surgeon-1", "patientId": "patient-1"},
    "prefetch": {"conditions": None, "wounds": None},
}
_CARD_SCHEMA = _object(
    {
        "uuid": _UUID, "summary": {"type": "string", "maxLength": 139},
        "indicator": {"enum": ["info", "warning", "critical"]}, "detail": {"type": "string"},
        "source": _object({"label": _TEXT}, "label"),
    }, "uuid", "summary", "indicator", "source")
_REPORT_SCHEMA = _object(
    {
        "card": _UUID, "outcome": {"enum": ["accepted", "overridden"]},
        "outcomeTimestamp": {"type": "string", "format": "date-time"},
        "acceptedSuggestions": {"type": "array", "minItems": 1, "items": _object({"id": _UUID}, "id")},
        "overrideReason": _object({"reason": _object({"code": _CODE})}),
    }, "card", "outcome", "outcomeTimestamp")
_REPORTS_SCHEMA = _object(
    {"feedback": {"type": "array", "minItems": 1, "maxItems": 100, "items": _REPORT_SCHEMA}}, "feedback")
_REPORTS_EXAMPLE = {"feedback": [{
    "card": _CARD, "outcome": "overridden", "outcomeTimestamp": "2026-03-04T08:15:00Z",
    "overrideReason": {"reason": write_override_reasons(DEFAULT_CANONICAL_BASE)[0]}}]}

DISCOVERY = {
    "summary": "The decision services of this deployment",
    "responses": {
        **_answer(
            "Services with their hooks and prefetch", _object({"services": {"type": "array"}}, "services"),
            write_discovery([GRAFT_PLAN], DEFAULT_CANONICAL_BASE)),
        **describe_errors(401, 406)}}
CALL = {
    "summary": "Call a service from the record (CDS Hooks 2.0)",
    "description": "Answers with at most one card, and with none when nothing is due or has changed since the last.",
    "openapi_extra": {**_ID, **_body(_CALL_SCHEMA, _CALL_EXAMPLE)},
    "responses": {
        **_answer("Cards; none for a patient without a burn", _object({
            "cards": {"type": "array", "items": _CARD_SCHEMA}}, "cards"), {"cards": []}),
        **describe_errors(400, 401, 404, 406, 408, 412, 413, 415, 429, 500, 503)}}
FEEDBACK = {
    "summary": "Report what a reader made of a card",
    "description": "Outcome and code of the reason are kept; a comment in free text is not.",
    "openapi_extra": {**_ID, **_body(_REPORTS_SCHEMA, _REPORTS_EXAMPLE)},
    "responses": {
        200: {"description": "Kept"},
        **describe_errors(400, 401, 404, 408, 413, 415, 500)}}
