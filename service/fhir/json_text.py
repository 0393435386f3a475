"""Exact JSON: decimals keep their text, keys stand once, size and depth are fenced.

A patient's number must not change on the way in or out, so decimals are ``Decimal`` from
the text they were sent as to the text they leave as.
"""

from __future__ import annotations

import json
import re
from decimal import Decimal
from typing import Any

import orjson

from service.fhir.faults import refuse

MOST_BYTES = 8 * 1024 * 1024
MOST_LEVELS = 150
MOST_ELEMENTS = 600_000  # dense FHIR of MOST_BYTES has two thirds of it
MOST_DIGITS = 40
MOST_MAGNITUDE = 30  # powers of ten
MOST_TEXT = 1024 * 1024

_ONE_KIND = bytes.maketrans(b"{}", b"[]")
_ALL_BUT_BRACKETS = bytes(set(range(256)) - set(b"[]{}"))
_TOO_DEEP = b"[" * (MOST_LEVELS + 1)


def _brackets_of(body: bytes) -> bytes:
    """The brackets outside of strings, all made one kind: whether they match is left to the parser."""
    if b"\\" in body:
        body = body.replace(b"\\\\", b"").replace(b'\\"', b"")
    return b"".join(body.split(b'"')[::2]).translate(_ONE_KIND, _ALL_BUT_BRACKETS)


def _refuse_size(body: bytes) -> None:
    """Count what will become objects, at the speed of a copy, before any does."""
    elements = max(body.count(b",") + body.count(b"{") + body.count(b"["), body.count(b'"') // 4)
    if elements > MOST_ELEMENTS:
        raise refuse("too-many-elements", "", cap=MOST_ELEMENTS)


def _refuse_depth(body: bytes) -> None:
    """Peel the innermost level of brackets, round by round."""
    brackets = _brackets_of(body)
    for _ in range(MOST_LEVELS):
        if _TOO_DEEP in brackets:
            break
        peeled = brackets.replace(b"[]", b"")
        if len(peeled) == len(brackets):
            return
        brackets = peeled
    if brackets:
        raise refuse("nested-too-deep", "", cap=MOST_LEVELS)


def _read_decimal(text: str) -> Decimal:
    number = Decimal(text)
    if len(text) > MOST_DIGITS or number.adjusted() > MOST_MAGNITUDE:
        raise refuse("number-out-of-range", "")
    return number


def _read_integer(text: str) -> int:
    if len(text) > 19 or not -(2**63) <= (number := int(text)) < 2**63:
        raise refuse("number-out-of-range", "")
    return number


def _refuse_constant(_text: str) -> None:
    raise refuse("number-not-finite", "")


def _read_object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    read = dict(pairs)
    if len(read) != len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise refuse("duplicate-key", "", key=twice if re.fullmatch(r"\w{1,40}", twice) else "?")
    return read


_DECODER = json.JSONDecoder(
    parse_float=_read_decimal,
    parse_int=_read_integer,
    parse_constant=_refuse_constant,
    object_pairs_hook=_read_object,
)


def read_json(body: bytes) -> dict[str, Any]:
    """Parse a body into Python objects, numbers with a point or exponent as ``Decimal``.

    Parameters
    ----------
    body : bytes
        UTF-8 without a byte order mark, at most ``MOST_BYTES``.

    Raises
    ------
    InvalidCase
        With one fault of HTTP status 400 or 413.
    """
    if len(body) > MOST_BYTES:
        raise refuse("body-too-large", "", cap=MOST_BYTES)
    if not body.strip():
        raise refuse("body-empty", "")
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError:
        raise refuse("not-utf8", "") from None
    if text[0] == "\ufeff" or "\0" in text:
        raise refuse("not-utf8", "")
    _refuse_size(body)
    _refuse_depth(body)
    try:
        read = _DECODER.decode(text)
    except (json.JSONDecodeError, RecursionError):
        raise refuse("not-json", "") from None
    if not isinstance(read, dict):
        raise refuse("not-an-object", "")
    return read


def _write_decimal(value: object) -> orjson.Fragment:
    if isinstance(value, Decimal) and value.is_finite():
        return orjson.Fragment(str(value).encode())
    raise TypeError(type(value).__name__)


def dump(resource: dict[str, Any], *, indent: bool = False) -> bytes:
    """A resource as JSON bytes in its own key order; decimals leave as their text.

    Raises ``orjson.JSONEncodeError`` for anything JSON has no form for.
    """
    return orjson.dumps(resource, default=_write_decimal, option=orjson.OPT_INDENT_2 if indent else None)
