"""The course of the plan before, from what the caller kept of it: never history, only something to compare with.

Whatever of it is unreadable is left out without a fault: it is no part of the record.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date
from decimal import Decimal
from typing import Any

from service.domain.body_region import Place
from service.domain.case import Act
from service.domain.plan_difference import CourseOutline, EarlierCourse, SessionOutline
from service.fhir.body_sites import read_site
from service.fhir.codes import codings_of
from service.fhir.identity import patient_prefix
from service.fhir.moments import read_moment
from service.fhir.quantities import read_number
from service.fhir.read_context import ReadContext
from service.fhir.read_log import ReadLog
from service.fhir.read_result import EarlierAnswer

#: Act of each Task in theatre, and the quantity of its area.
_ACTS = {
    "excise-wound": (Act.EXCISE, "excised-area"),
    "harvest-skin": (Act.HARVEST, "harvest-area"),
    "place-graft": (Act.PLACE, "graft-area"),
}
_WITHDRAWN = ("cancelled", "revoked", "rejected", "failed", "entered-in-error")
#: How the note of a CarePlan begins that lists the wishes of the request.
ASKED_FOR = "Asked for: "


def read_earlier_course(
    sent_back: Iterable[EarlierAnswer], patient_key: str, context: ReadContext,
) -> EarlierCourse | None:
    """Sessions still planned when the plan before was made; ``None`` when nothing tells of one.

    Parameters
    ----------
    sent_back : iterable of EarlierAnswer
        Resources of this service that came along.
    patient_key : str
        Of the patient of the request; what is of another does not count.
    context : ReadContext
    """
    reader = _Reader(context)
    prefix = patient_prefix(patient_key)
    kept = [e for e in sent_back if e.identifier_value.startswith(prefix) and e.status not in _WITHDRAWN]
    plans = [e.resource for e in kept if e.resource_type == "CarePlan"]
    written = [reader.day(e.resource.get("created" if e.resource_type == "CarePlan" else "authoredOn"))
               for e in kept if not plans or e.resource_type == "CarePlan"]
    made_on = max((day for day in written if day), default=None)
    sessions = reader.sessions(kept)
    if made_on is None or not sessions:
        return None
    outline = CourseOutline(tuple(s for s in sessions if s.day >= made_on), reader.end(plans))
    return EarlierCourse(made_on, outline, reader.asked_for(plans))


class _Reader:
    """Reads elements of an earlier answer and forgets what is wrong with them."""

    def __init__(self, context: ReadContext) -> None:
        self._context = ReadContext(ReadLog(), context.code_map, context.references, context.as_of, context.zone)

    def day(self, text: Any) -> date | None:
        moment = read_moment(text, "", self._context.zone, self._context.log)
        return moment.day if moment else None

    def sessions(self, kept: list[EarlierAnswer]) -> tuple[SessionOutline, ...]:
        """Days from requests and Tasks; areas by place where the Tasks of the day came along."""
        areas: dict[date, dict[tuple[Act, str], Decimal]] = defaultdict(lambda: defaultdict(Decimal))
        skin: dict[date, Decimal | None] = {}
        for one in kept:
            if one.resource_type == "Task":
                for day, act, place, area_cm2 in self._acts(one.resource):
                    areas[day][act, place.key] += area_cm2
            elif self._is_session(one):
                day = self.day(one.resource.get("occurrenceDateTime"))
                skin |= {day: self._value(one.resource.get("quantityQuantity"))} if day else {}
        return tuple(
            SessionOutline(day, skin.get(day), tuple((*key, area) for key, area in sorted(areas[day].items())))
            for day in sorted({*areas, *skin}))

    def _is_session(self, one: EarlierAnswer) -> bool:
        return one.resource_type == "ServiceRequest" and "theatre-session" in self._names(
            one.resource.get("code"), "request")

    def _acts(self, task: dict) -> Iterator[tuple[date, Act, Place, Decimal]]:
        """What a Task in theatre asks for at each place; nothing unless all of it can be read."""
        day = self.day(_part(_part(task.get("restriction"), "period"), "start"))
        for name in self._names(task.get("code"), "task") & set(_ACTS):
            act, quantity = _ACTS[name]
            parts = self._parts(_dicts(task.get("input")), f"{quantity}-at-place")
            if day and all(place and area_cm2 is not None for place, area_cm2 in parts):
                yield from ((day, act, place, area_cm2) for place, area_cm2 in parts)

    def _parts(self, inputs: list[dict], quantity: str) -> list[tuple[Place | None, Decimal | None]]:
        """Each place with the area that stands between it and the next."""
        parts: list[tuple[Place | None, Decimal | None]] = []
        for one in inputs:
            if "at-place" in self._names(one.get("type"), "input"):
                parts.append((self._place(one.get("valueCodeableConcept")), None))
            elif parts and "valueQuantity" in one and quantity in self._names(one.get("type"), "quantity"):
                parts[-1] = parts[-1][0], self._value(one["valueQuantity"])
        return parts

    def _place(self, concept: Any) -> Place | None:
        codings = [{name: coding[name] for name in ("system", "code") if name in coding}
                   for _, coding in codings_of(concept)]
        site = read_site({"coding": codings}, None, "", self._context)
        return site.place if site else None

    def _value(self, quantity: Any) -> Decimal | None:
        value = read_number(_part(quantity, "value"), "", self._context.log)
        return None if value is None or value < 0 else value

    def _names(self, concept: Any, kind: str) -> set[str]:
        """Names of a kind that a concept may stand for."""
        rows = (row for _, coding in codings_of(concept) for row in self._context.code_map.rows_of(coding))
        return {row.name for row in rows if row.kind == kind}

    def end(self, plans: list[dict]) -> date | None:
        return next((day for plan in plans if (day := self.day(_part(plan.get("period"), "end")))), None)

    @staticmethod
    def asked_for(plans: list[dict]) -> str | None:
        """Wishes that the plan before was made with, as its CarePlan words them."""
        texts = [_part(note, "text") for plan in plans for note in _dicts(plan.get("note"))]
        said = [t.removeprefix(ASKED_FOR) for t in texts if isinstance(t, str) and t.startswith(ASKED_FOR)]
        return next(iter(said), "") if plans else None


def _part(holder: Any, name: str) -> Any:
    return holder.get(name) if isinstance(holder, dict) else None


def _dicts(values: Any) -> list[dict]:
    return [value for value in values if isinstance(value, dict)] if isinstance(values, list) else []
