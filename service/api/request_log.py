"""One log line a request, and the barrier behind which no error text escapes.

A line holds method, path template, status, milliseconds and request id; never a query, a
body or an id from the path.
"""

from __future__ import annotations

import logging
import re
from time import perf_counter
from uuid import uuid4

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api.answers import write_error

log = logging.getLogger("graftstage")

HEADER = b"x-request-id"
_SAFE_ID = re.compile(rb"[A-Za-z0-9._-]{1,64}")


class RequestLog:
    """Outermost layer: gives every request its id and its line."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request_id = _request_id(scope)
        status, started = 0, perf_counter()

        async def send_with_id(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                message = {**message, "headers": [*message["headers"], (HEADER, request_id)]}
            await send(message)

        try:
            await self.app(scope, receive, send_with_id)
        except Exception as error:
            if status:
                raise RuntimeError("failed while answering") from None
            await write_error(scope, error)(scope, receive, send_with_id)
        finally:
            milliseconds = 1000 * (perf_counter() - started)
            log.info("%s %s %d %.1f ms %s", scope["method"], _template(scope), status, milliseconds,
                     request_id.decode())


def _request_id(scope: Scope) -> bytes:
    """The caller's id when it is harmless in a log, else one of our own."""
    sent = dict(scope["headers"]).get(HEADER, b"")
    return sent if _SAFE_ID.fullmatch(sent) else str(uuid4()).encode()


def _template(scope: Scope) -> str:
    """The route as it is declared; the path itself may hold an id."""
    return getattr(scope.get("route"), "path", "(no route)")
