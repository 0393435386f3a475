"""What can be wrong with a request before its body is read, and our own failures."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class FaultText:
    """One row: the HTTP status, the FHIR issue code, the sentence and its repair."""

    status: int
    issue_code: str
    text: str
    repair: str


TRANSPORT_FAULTS = {
    "path-not-found": FaultText(
        404, "not-found", "Nothing stands at this address.", "GET /fhir/metadata lists what this endpoint offers."),
    "resource-not-found": FaultText(
        404, "not-found", "No conformance resource has this id.", "Search its type by url, or read it by its id."),
    "method-not-allowed": FaultText(
        405, "not-supported", "This address does not take this HTTP method.", "The Allow header names the right one."),
    "answer-not-acceptable": FaultText(
        406, "not-supported", "The answer cannot be written in any form asked for.",
        "Accept application/fhir+json; fhirVersion, if given, is 4.0."),
    "body-too-large": FaultText(
        413, "too-long", "The body is larger than this endpoint takes.",
        "Send only the resources that planning uses."),
    "media-type-not-supported": FaultText(
        415, "not-supported", "The body is not declared as FHIR R4 JSON in UTF-8.",
        "Send Content-Type: application/fhir+json."),
    "encoding-not-supported": FaultText(
        415, "not-supported", "The body is compressed.", "Send it without Content-Encoding."),
    "search-not-supported": FaultText(
        400, "not-supported", "Conformance resources are searched by url only.",
        "Use one parameter url with the canonical URL."),
    "service-fault": FaultText(
        500, "exception", "The service failed.", "Report the request id of the answer to whoever runs the service."),
    "busy": FaultText(
        503, "throttled", "Too many plans are being made.", "Try again after the time in Retry-After."),
}


class TransportFault(Exception):
    """A request ends with a row of ``TRANSPORT_FAULTS``."""

    def __init__(self, error_id: str, headers: dict[str, str] | None = None) -> None:
        super().__init__(error_id)
        self.error_id = error_id
        self.headers = headers or {}
