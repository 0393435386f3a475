"""What must hold of a request before anything looks into it, and methods that every address takes."""

from __future__ import annotations

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api.transport_faults import TransportFault

#: Far above what callers send; a token and a trace fit many times.
MOST_HEADER_BYTES = 16 * 1024


class RequestFrame:
    """Refuses headers too large, a length stated two ways, and a host that is not ours."""

    def __init__(self, app: ASGIApp, allowed_hosts: tuple[str, ...]) -> None:
        self.app = app
        self.allowed_hosts = frozenset(host.lower() for host in allowed_hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            self._look_at(scope)
        await self.app(scope, receive, send)

    def _look_at(self, scope: Scope) -> None:
        headers = Headers(scope=scope)
        size = len(scope["query_string"]) + sum(len(name) + len(value) for name, value in scope["headers"])
        if size > MOST_HEADER_BYTES:
            raise TransportFault("headers-too-large", {"Connection": "close"})
        if "content-length" in headers and "transfer-encoding" in headers:
            raise TransportFault("length-stated-twice", {"Connection": "close"})
        if self.allowed_hosts and _without_port(headers.get("host", "")) not in self.allowed_hosts:
            raise TransportFault("host-not-allowed")


def _without_port(host: str) -> str:
    name, colon, port = host.lower().rpartition(":")
    return name if colon and port.isdigit() else host.lower()


class HeadAsGet:
    """HEAD is answered as GET without the body."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self.app(scope, receive, send)
            return

        async def send_head(message: Message) -> None:
            scope["method"] = "HEAD"  # the server knows from it that no body follows
            await send({**message, "body": b""} if message["type"] == "http.response.body" else message)

        scope["method"] = "GET"
        await self.app(scope, receive, send_head)


class TrailingSlash:
    """``/fhir/`` is ``/fhir``: clients differ, and a redirect loses the body of a POST."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and scope["path"] != "/":
            scope["path"] = scope["path"].rstrip("/") or "/"
        await self.app(scope, receive, send)
