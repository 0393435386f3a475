"""The record as a page carries it: packed, so that a page with several forms stays light."""

from __future__ import annotations

import zlib
from base64 import b64decode, b64encode


def pack_record(body: bytes) -> str:
    """The same record has the same text."""
    return b64encode(zlib.compress(body, 9)).decode()


def unpack_record(text: str, most_bytes: int) -> bytes:
    """The record of a page. Raises ``ValueError`` for what no page carries, and above the cap."""
    unpacker = zlib.decompressobj()
    try:
        body = unpacker.decompress(b64decode(text, validate=True), most_bytes)
    except zlib.error as error:
        raise ValueError("not packed") from error
    if not unpacker.eof:
        raise ValueError("too large, or broken off")
    return body
