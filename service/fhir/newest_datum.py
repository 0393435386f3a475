"""How old the record is that an answer rests on: the newest moment at which anything used was seen or done."""

from __future__ import annotations

import re
from typing import Any
from zoneinfo import ZoneInfo

from service.fhir.moments import Moment, read_choice
from service.fhir.read_log import ReadLog
from service.fhir.read_result import ReadResult

_STEMS = {"Observation": "effective", "Procedure": "performed"}


def find_newest_datum(read: ReadResult, resources: list[dict[str, Any]], zone: ZoneInfo) -> Moment | None:
    """The newest of what counted; a day without an hour is its end. ``None`` when nothing has a date.

    Parameters
    ----------
    read : ReadResult
        Its record keys name the places of ``resources``.
    resources : list of dict
        The entries of the record, in the order in which they were read.
    zone : ZoneInfo
        Of the request.
    """
    moments = [_moment_of(resources[_place_of(key)], zone) for key, _ in read.understood]
    return max((moment for moment in moments if moment), key=_order, default=None)


def _place_of(record_key: str) -> int:
    return int(re.fullmatch(r"entry\[(\d+)\]", record_key)[1])


def _moment_of(resource: dict[str, Any], zone: ZoneInfo) -> Moment | None:
    stem = _STEMS.get(resource["resourceType"])
    return read_choice(resource, stem, "", zone, ReadLog()) if stem else None


def _order(moment: Moment) -> tuple:
    return moment.day, moment.instant is None, moment.instant.timestamp() if moment.instant else 0
