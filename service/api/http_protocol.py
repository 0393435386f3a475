"""The server's protocol, whose one text of its own is replaced by an OperationOutcome."""

from __future__ import annotations

from uvicorn.protocols.http.h11_impl import H11Protocol

from service.api.errors import describe_error
from service.api.media_types import FHIR_JSON
from service.api.transport_faults import TransportFault
from service.fhir.canonical import DEFAULT_CANONICAL_BASE
from service.fhir.json_text import dump

_HEAD = "HTTP/1.1 {status} Bad Request\r\ncontent-type: {form}; charset=utf-8\r\ncontent-length: {length}\r\n" \
    "connection: close\r\n\r\n"


class OutcomeProtocol(H11Protocol):
    """Answers bytes that are no HTTP request in the same form as every other fault."""

    def send_400_response(self, msg: str) -> None:
        """Say what is wrong, unless an answer is already under way, and close."""
        if self.cycle is None or not self.cycle.response_started:
            status, outcome, _ = describe_error(TransportFault("not-http"), DEFAULT_CANONICAL_BASE)
            body = dump(outcome)
            self.transport.write(_HEAD.format(status=status, form=FHIR_JSON, length=len(body)).encode() + body)
        self.transport.close()
