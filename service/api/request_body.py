"""The body of a request, within its size, its time, and its size once unpacked."""

from __future__ import annotations

import zlib

from anyio import fail_after
from starlette.requests import ClientDisconnect, Request

from service.api.answers import parts_of
from service.api.media_types import is_packed, require_json_body
from service.api.transport_faults import TransportFault

_GZIP = 31  # the window bits that zlib takes for a gzip frame
#: After a body that was not read to its end the connection is of no further use.
_CLOSE = {"Connection": "close"}


class _Plain:
    """A body as it comes."""

    def unpack(self, chunk: bytes, _room_bytes: int) -> bytes:
        return chunk

    def require_whole(self) -> None:
        """Nothing can be missing: the server has counted."""


class _Gzip:
    """A gzip frame, never unpacked beyond the room that is left for it."""

    def __init__(self) -> None:
        self._frame = zlib.decompressobj(_GZIP)

    def unpack(self, chunk: bytes, room_bytes: int) -> bytes:
        try:
            unpacked = self._frame.decompress(chunk, room_bytes + 1)
        except zlib.error:
            raise TransportFault("body-not-gzip", _CLOSE) from None
        if self._frame.unused_data:
            raise TransportFault("body-not-gzip", _CLOSE)
        return unpacked

    def require_whole(self) -> None:
        if not self._frame.eof:
            raise TransportFault("body-not-gzip", _CLOSE)


async def read_body(request: Request) -> bytes:
    """The body, unpacked.

    Raises ``TransportFault``: 413 as soon as the body is known to be too large, sent or
    unpacked; 408 when it does not arrive in time; 415; 400 when it is broken off or no gzip.
    """
    require_json_body(request.headers.get("content-type"), request.headers.get("content-encoding"))
    settings = parts_of(request).settings
    stated = request.headers.get("content-length", "")
    if stated.isdigit() and int(stated) > settings.max_body_bytes:
        raise TransportFault("body-too-large", _CLOSE, cap=settings.max_body_bytes)
    packing = _Gzip() if is_packed(request.headers.get("content-encoding")) else _Plain()
    try:
        with fail_after(settings.body_seconds):
            return await _gather(request, packing, settings.max_body_bytes)
    except TimeoutError:
        raise TransportFault("body-too-slow", _CLOSE) from None
    except ClientDisconnect:
        raise TransportFault("body-broken-off") from None


async def _gather(request: Request, packing: _Plain | _Gzip, most_bytes: int) -> bytes:
    body = bytearray()
    async for chunk in request.stream():
        body += packing.unpack(chunk, most_bytes - len(body)) if chunk else b""
        if len(body) > most_bytes:
            raise TransportFault("body-too-large", _CLOSE, cap=most_bytes)
    packing.require_whole()
    return bytes(body)
