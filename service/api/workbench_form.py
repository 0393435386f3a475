"""Forms of the workbench: read within bounds, kept nowhere."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from starlette.datastructures import UploadFile
from starlette.formparsers import MultiPartException
from starlette.requests import Request

from service.api.answers import parts_of
from service.api.transport_faults import TransportFault

_MOST_FIELDS = 500
#: The record travels in a field and a file at most, beside some short fields.
_RECORDS_AT_MOST = 2
_FIELD_BYTES = 100_000


@dataclass(frozen=True)
class Form:
    """Fields by name, and the file if one was chosen."""

    fields: Mapping[str, str]
    file: bytes | None


async def read_form(request: Request) -> Form:
    """The form of a request.

    Raises ``TransportFault``: 413 above the cap or without a stated length; 400 when it is no multipart form or cannot
    be read.
    """
    if not request.headers.get("content-type", "").lower().startswith("multipart/form-data"):
        raise TransportFault("form-unreadable", {"Connection": "close"})
    most = parts_of(request).settings.max_body_bytes
    length = request.headers.get("content-length", "")
    if not length.isdigit() or int(length) > _RECORDS_AT_MOST * most + _FIELD_BYTES:
        raise TransportFault("body-too-large", {"Connection": "close"}, cap=most)
    try:
        async with request.form(max_files=1, max_fields=_MOST_FIELDS, max_part_size=most) as sent:
            files = [value for value in sent.values() if isinstance(value, UploadFile)]
            content = await files[0].read(most + 1) if files else b""
            fields = {name: value for name, value in sent.items() if isinstance(value, str)}
    except MultiPartException:
        raise TransportFault("form-unreadable", {"Connection": "close"}) from None
    if len(content) > most:
        raise TransportFault("body-too-large", {"Connection": "close"}, cap=most)
    return Form(fields, content or None)
