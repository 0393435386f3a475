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
    "not-http": FaultText(
        400, "structure", "The bytes are no HTTP request.", "Send HTTP/1.1 as RFC 9112 defines it."),
    "headers-too-large": FaultText(
        431, "too-long", "Headers and query are larger than this endpoint takes.",
        "Send what is long in the body."),
    "length-stated-twice": FaultText(
        400, "structure", "Content-Length and Transfer-Encoding are both given.", "Give one of the two."),
    "host-not-allowed": FaultText(
        400, "security", "The Host header names no host of this service.", "Call the address of the deployment."),
    "query-parameter-unknown": FaultText(
        400, "not-supported", "A parameter of the query is not known here.",
        "Remove it, or ask without Prefer: handling=strict."),
    "idempotency-key-reused": FaultText(
        409, "conflict", "This Idempotency-Key was used for another request.", "Use a new key for each request."),
    "body-too-slow": FaultText(
        408, "timeout", "The body did not arrive in time.", "Send it again over a faster connection."),
    "body-broken-off": FaultText(
        400, "structure", "The connection ended before the body did.", "Send it again."),
    "body-not-gzip": FaultText(
        400, "structure", "The body is not the one gzip frame that Content-Encoding says it is.",
        "Send one complete gzip frame, or send it without Content-Encoding."),
    "body-too-large": FaultText(
        413, "too-long", "The body is larger than this endpoint takes.",
        "Send only the resources that planning uses."),
    "media-type-not-supported": FaultText(
        415, "not-supported", "The body is not declared as FHIR R4 JSON in UTF-8.",
        "Send Content-Type: application/fhir+json."),
    "encoding-not-supported": FaultText(
        415, "not-supported", "The body is packed in another way than gzip.",
        "Send it in gzip or without Content-Encoding."),
    "search-not-supported": FaultText(
        400, "not-supported", "Conformance resources are searched by url only.",
        "Use one parameter url with the canonical URL."),
    "service-fault": FaultText(
        500, "exception", "The service failed.", "Report the request id of the answer to whoever runs the service."),
    "plan-withheld": FaultText(
        503, "exception", "No plan passed verification, so none is given.",
        "Plan by hand, and report the request id of the answer to whoever runs the service."),
    "busy": FaultText(
        429, "throttled", "Too many plans are being made.", "Try again after the time in Retry-After."),
}


class TransportFault(Exception):
    """A request ends with a row of ``TRANSPORT_FAULTS``."""

    def __init__(self, error_id: str, headers: dict[str, str] | None = None) -> None:
        super().__init__(error_id)
        self.error_id = error_id
        self.headers = headers or {}
