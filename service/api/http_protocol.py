"""The server's protocol, whose one text of its own is replaced by an OperationOutcome."""

from __future__ import annotations

from http import HTTPStatus

from uvicorn.protocols.http.h11_impl import H11Protocol

from service.api.errors import describe_error
from service.api.media_types import FHIR_JSON
from service.api.request_frame import MOST_HEADER_BYTES
from service.api.transport_faults import TransportFault
from service.fhir.canonical import DEFAULT_CANONICAL_BASE
from service.fhir.json_text import dump

_HEAD = "HTTP/1.1 {status} {phrase}\r\ncontent-type: {form}; charset=utf-8\r\ncontent-length: {length}\r\n" \
    "connection: close\r\n\r\n"


class OutcomeProtocol(H11Protocol):
    """Answers bytes that are no HTTP request in the same form as every other fault."""

    def send_400_response(self, msg: str) -> None:
        """Say what is wrong, unless an answer is already under way, and close."""
        if self.cycle is None or not self.cycle.response_started or self.cycle.response_complete:
            self.transport.write(self._write_fault())
        self.transport.close()

    def _write_fault(self) -> bytes:
        """The parser gives headers up that never end: what it holds of them tells."""
        is_too_long = len(self.conn.trailing_data[0]) > MOST_HEADER_BYTES
        fault = TransportFault("headers-too-large" if is_too_long else "not-http")
        status, outcome, _ = describe_error(fault, DEFAULT_CANONICAL_BASE)
        body, phrase = dump(outcome), HTTPStatus(status).phrase
        head = _HEAD.format(status=status, phrase=phrase, form=FHIR_JSON, length=len(body))
        return head.encode() + body
