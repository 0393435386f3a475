"""What a sheet rests on: its hash, how long it may be used, how old its data are, what to check at the bedside."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from service.domain.answer import PlanAnswer
from service.domain.dressing import EventKind
from service.wording.languages import Words
from service.wording.rounding import TENTH, number_in_words

_SHORT_HASH = 12


@dataclass(frozen=True)
class Basis:
    """As-of moment in the zone of the site, short hash, last day of use, and the age of what was read."""

    as_of: datetime
    time_zone: str
    plan_hash: str
    valid_until: date
    read: tuple[tuple[str, date, int], ...]  # what, newest record of it, its age in days
    missing: tuple[str, ...]


def make_basis(answer: PlanAnswer, plan_sha256: str, _: Words) -> Basis:
    """The foot that every page of a sheet stands on.

    Parameters
    ----------
    answer : PlanAnswer
        A verified plan, or the answer that there is none.
    plan_sha256 : str
        Hash of the answer as it was written, the same that the audit trail keeps.
    """
    case = answer.case
    read, missing = [], []
    for what, day in _sources(answer, _):
        if day is None:
            missing.append(what)
        else:
            read.append((what, day, -case.day_of(day)))
    return Basis(
        case.request.as_of.astimezone(ZoneInfo(case.request.time_zone)), case.request.time_zone,
        plan_sha256[:_SHORT_HASH], case.date_of(_last_day_of_use(answer)), tuple(read), tuple(missing))


def _last_day_of_use(answer: PlanAnswer) -> int:
    """The first session or the first day on which the plan is to be made anew, whichever comes first."""
    sessions = [s.day for s in answer.plan.settled.firm_sessions]
    reviews = [e.day for e in answer.events if e.kind is EventKind.REVIEW_PLAN]
    return min((*sessions, *reviews), default=0)


def _sources(answer: PlanAnswer, _: Words) -> Iterator[tuple[str, date | None]]:
    """Each kind of record that planning uses, with its newest day; ``None``: not on record."""
    record = answer.case.record
    patient = record.patient
    yield _("burn extents"), max((e.observed for e in record.extents), default=None)
    yield _("weight"), patient.weight_kg.observed
    haemoglobin = patient.haemoglobin_g_dl
    yield _("haemoglobin"), haemoglobin.observed if haemoglobin else None
    yield _("wound bed"), max((b.observed for b in record.beds), default=None)
    if record.placements:
        yield _("take of grafts"), max((p.take_day for p in record.placements if p.take_day), default=None)
    if record.harvests:
        yield _("donor healing"), max((d.observed for d in record.donor_states), default=None)


def bedside_checks(answer: PlanAnswer, _: Words) -> list[tuple[str, str]]:
    """What to check at the bedside before the sheet is used, with what the plan took for true."""
    patient = answer.case.record.patient
    weight = f"{number_in_words(patient.weight_kg.value, TENTH)} kg, {patient.weight_kg.observed.isoformat()}"
    takes = [p for p in answer.case.record.placements if p.take_day]
    last = max((p.take_day for p in takes), default=None)
    return [
        (_("Sides and places are marked and agree with the map"), ""),
        (_("Weight today"), " ".join((_("planned with"), weight))),
        (_("Last take is read and on record"), last.isoformat() if last else _("none on record")),
        (_("Nothing in the record has changed since this sheet was made"), ""),
    ]
