"""Let a refusal arrive: a connection that is closed on unread data may lose the answer on its way."""

from __future__ import annotations

from anyio import move_on_after
from starlette.types import ASGIApp, Message, Receive, Scope, Send

#: How long, and how much, is read and thrown away after an answer that closes the connection.
LINGER_SECONDS = 2.0
LINGER_BYTES = 64 * 1024 * 1024
#: A body in chunks has no end in sight: less of it is read.
LINGER_BYTES_OF_CHUNKS = 16 * 1024 * 1024


class LingeringClose:
    """After an answer with ``Connection: close`` the rest of the body is read and thrown away, within bounds."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        is_closing, is_held = False, False

        async def send_and_hold(message: Message) -> None:
            """Pass everything on at once, but leave the end of a closing answer open."""
            nonlocal is_closing, is_held
            if message["type"] == "http.response.start":
                is_closing = (b"connection", b"close") in message["headers"]
            elif is_closing and not message.get("more_body", False):
                is_held = True
                message = {**message, "more_body": True}
            await send(message)

        await self.app(scope, receive, send_and_hold)
        if is_held:
            is_stated = any(name == b"content-length" for name, _ in scope["headers"])
            await _throw_away(receive, LINGER_BYTES if is_stated else LINGER_BYTES_OF_CHUNKS)
            await send({"type": "http.response.body", "body": b"", "more_body": False})


async def _throw_away(receive: Receive, most_bytes: int) -> None:
    """Read until the body ends, the peer leaves, or the bounds are met; keep nothing."""
    read_bytes = 0
    with move_on_after(LINGER_SECONDS):
        while read_bytes < most_bytes:
            message = await receive()
            if message["type"] != "http.request":
                return
            read_bytes += len(message.get("body", b""))
            if not message.get("more_body", False):
                return
