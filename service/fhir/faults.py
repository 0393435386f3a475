"""The catalogue of what can be wrong with a request, and the list a reader fills.

``tables/faults.csv`` holds every error id with its HTTP status, its issue code, its text and
its repair hint. No text has room for a value of the patient.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from service.domain.errors import Fault, InvalidCase
from service.wording.catalogue import fill

TABLE = Path(__file__).parent / "tables" / "faults.csv"
#: More faults than this say no more than the first ones do.
MOST_FAULTS = 50


@dataclass(frozen=True)
class FaultKind:
    """One row of the catalogue. ``http_status`` 200 marks a note beside an answer."""

    error_id: str
    http_status: int
    severity: str
    issue_code: str
    text: str
    repair: str


@lru_cache(maxsize=1)
def fault_catalogue() -> dict[str, FaultKind]:
    with TABLE.open(newline="", encoding="utf-8") as handle:
        kinds = [FaultKind(**{**row, "http_status": int(row["http_status"])}) for row in csv.DictReader(handle)]
    return {kind.error_id: kind for kind in kinds}


def kind_of(fault: Fault) -> FaultKind:
    """The catalogue row of a fault; ``KeyError`` for an id that the catalogue does not hold."""
    return fault_catalogue()[fault.error_id]


def http_status_of(faults: tuple[Fault, ...]) -> int:
    """One status for many faults: too large before unreadable before missing before contradictory."""
    statuses = {kind_of(fault).http_status for fault in faults}
    return next(status for status in (413, 400, 412, 422) if status in statuses)


def _place_order(expression: str) -> tuple:
    """Sorts ``entry[10]`` after ``entry[9]``."""
    return tuple((0, int(part), "") if part.isdigit() else (1, 0, part) for part in re.split(r"(\d+)", expression))


def sorted_faults(faults: list[Fault]) -> tuple[Fault, ...]:
    """Each fault once, by place, capped."""
    ordered = sorted(set(faults), key=lambda fault: (_place_order(fault.expression), fault.error_id))
    return tuple(ordered[:MOST_FAULTS])


def make_fault(error_id: str, expression: str, **values: object) -> Fault:
    """A fault whose id is in the catalogue. ``values`` are names, caps and allowed codes."""
    if error_id not in fault_catalogue():
        raise KeyError(error_id)
    return Fault(error_id, expression, tuple((name, str(value)) for name, value in values.items()))


def refuse(error_id: str, expression: str, **values: object) -> InvalidCase:
    """An ``InvalidCase`` of one fault, for what makes further reading pointless."""
    return InvalidCase((make_fault(error_id, expression, **values),))


def word_in_record(fault: Fault, resource_types: list[str]) -> str:
    """What is wrong and how to repair it, with the kind of resource instead of its place in the request.

    Parameters
    ----------
    fault : Fault
    resource_types : list of str
        Types of the entries of the Bundle, in order.
    """
    kind, values = kind_of(fault), dict(fault.values)
    place = re.search(r"entry\[(\d+)\]\.resource\.?(.*)", fault.expression)
    where = ".".join(part for part in (resource_types[int(place[1])], place[2]) if part) + ": " if place else ""
    return f"{where}{fill(kind.text, values)} {fill(kind.repair, values)}"
