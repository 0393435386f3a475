"""One bad input and the answer that is due, and how the bodies are built."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from tests import builders as make

ENTRY = "Parameters.parameter[0].resource.entry[{}].resource"
WEIGHT, HEIGHT, FIRST_WOUND = ENTRY.format(2), ENTRY.format(3), ENTRY.format(5)
SECOND = ENTRY.format(6)  # the resource after the first wound
WOUND = make.burn_wound()
Body = Callable[[], bytes]


@dataclass(frozen=True)
class BadInput:
    """One line of the catalogue, or none of it (0), and what the service answers.

    ``told`` is what a 200 says: the error id of an issue, the code of a finding, the missing
    datum, or nothing. ``shown`` stands in the answer as text. ``planted`` stands in the
    request and must stand neither in the answer nor in the log.
    """

    line: int
    name: str
    body: Body
    status: int
    issue_code: str = ""
    told: str = ""
    expression: str = ""
    planted: str = ""
    shown: str = ""


def raw(body: bytes) -> Body:
    return lambda: body


def wounds(*resources: Any) -> Body:
    """A complete record with these resources."""
    return lambda: make.body_of(make.record(*resources))


def text_of(resource: Any, old: str, new: str) -> Body:
    """A record whose JSON text is changed where a builder could not write it."""
    def body() -> bytes:
        text = make.body_of(make.record(resource)).decode()
        assert old in text
        return text.replace(old, new, 1).encode()
    return body


def instead_of(index: int, resource: Any, *more: Any) -> Body:
    """A complete record in which one of the needed resources is another, or left out."""
    def body() -> bytes:
        resources = make.needed()
        resources[index:index + 1] = [resource] if resource else []
        return make.body_of(make.parameters(make.bundle(*resources, *(more or (WOUND,)))))
    return body


def with_parameter(*sent: dict) -> Body:
    def body() -> bytes:
        record = make.record(WOUND)
        record["parameter"] += sent
        return make.body_of(record)
    return body


def weight(value: object, ucum: str = "kg", **changed: Any) -> dict:
    resource = make.measured("weight", value, ucum)
    resource["valueQuantity"] |= changed
    return resource


def without(resource: dict, *path: str) -> dict:
    holder = resource
    for name in path[:-1]:
        holder = holder[name]
    del holder[path[-1]]
    return resource
