"""What if: the case under other conditions, assessed from the same record."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from service.assessment.assess import assess_case
from service.domain.body_region import Place, all_places
from service.domain.case import BurnRecord, GraftingCase, PlanRequest, TheatreDay
from service.domain.donor_site import DonorState, DonorStateRecord
from service.domain.errors import Fault, InvalidCase
from service.domain.what_if import WhatIf
from service.evidence.library import Evidence
from service.preferences.library import Preferences

_EXPRESSION = "Parameters.parameter.where(name='what-if')"


def assess_what_if(record: BurnRecord, request: PlanRequest, case: GraftingCase, evidence: Evidence,
                   preferences: Preferences) -> GraftingCase:
    """The case under the conditions of ``request.what_if``.

    Parameters
    ----------
    record, request : what the plan of record was made from
    case : the case of the plan of record
    evidence, preferences : numbers and value judgements to assess with

    Raises
    ------
    InvalidCase
        A condition that changes nothing, or leaves no method or no theatre day.
    """
    asked = request.what_if
    other_record = _with_sites(record, case.day_zero, asked)
    other_request = replace(
        request,
        theatre_days=_days_left(request, case, asked),
        methods_available=request.methods_available - asked.methods_unavailable,
        fixed_decisions=(*request.fixed_decisions, *asked.fixed_decisions),
        what_if=None,
        **_stated(asked),
    )
    assessed = assess_case(other_record, other_request, evidence, preferences)
    other = replace(assessed, horizon_day=case.horizon_day)  # both plans look equally far
    faults = [*_find_idle(request, case, other, asked), *_find_empty(other_request, asked)]
    if faults:
        raise InvalidCase(tuple(faults))
    return other


def _stated(asked: WhatIf) -> dict:
    """Amounts that the conditions state, by their name in the request."""
    names = ("cover_stock_cm2", "transfusion_units", "session_area_limit_percent_tbsa", "session_minutes_limit")
    return {name: value for name in names if (value := getattr(asked, name)) is not None}


def _names(place: Place, keys: tuple[str, ...]) -> bool:
    return place.key in keys or place.region_key in keys


def _with_sites(record: BurnRecord, today: date, asked: WhatIf) -> BurnRecord:
    """The record with a state of today on each excluded or freed site; a stated usable share stays."""
    states = [s for s in record.donor_states if not _names(s.place, asked.excluded_sites + asked.freed_sites)]
    for place in all_places():
        if _names(place, asked.excluded_sites):
            states.append(DonorStateRecord(place, DonorState.EXCLUDED, today, source=""))
        elif _names(place, asked.freed_sites):
            shares = [s.usable_share for s in record.donor_states if s.place == place and s.usable_share is not None]
            states.append(DonorStateRecord(
                place, DonorState.HEALED, today, source="", usable_share=min(shares, default=None)))
    return replace(record, donor_states=tuple(states))


def _days_left(request: PlanRequest, case: GraftingCase, asked: WhatIf) -> tuple[TheatreDay, ...]:
    """Theatre days without the dropped ones; every day has to be named once one is dropped."""
    if not asked.dropped_days:
        return request.theatre_days
    days = request.theatre_days or tuple(
        TheatreDay(case.day_zero + timedelta(days=day)) for day in range(case.horizon_day + 1))
    return tuple(day for day in days if day.day not in asked.dropped_days)


def _find_idle(request: PlanRequest, case: GraftingCase, other: GraftingCase, asked: WhatIf) -> list[Fault]:
    """A fault for each condition whose object is not there, or is so already."""
    idle = []
    for name, keys in (("exclude-site", asked.excluded_sites), ("free-site", asked.freed_sites)):
        idle += [name for key in keys if _site(case, key) == _site(other, key)]
    known = {day.day for day in request.theatre_days}
    last = case.date_of(case.horizon_day)
    idle += ["drop-day" for day in asked.dropped_days
             if (known and day not in known) or not case.day_zero <= day <= last]
    idle += [name.replace("_percent_tbsa", "").replace("_cm2", "").replace("_", "-")
             for name, value in _stated(asked).items() if value == getattr(request, name)]
    if asked.methods_unavailable and not asked.methods_unavailable & request.methods_available:
        idle.append("method-unavailable")
    idle += ["fixed-decision" for decision in asked.fixed_decisions if decision in request.fixed_decisions]
    return [_fault("what-if-changes-nothing", name) for name in dict.fromkeys(idle)]


def _site(case: GraftingCase, key: str) -> list:
    """Skin of the named site or sites, by its history."""
    return [(s.site_id, s.parcels) for s in case.donor_sites if _names(s.place, (key,))]


def _find_empty(other: PlanRequest, asked: WhatIf) -> list[Fault]:
    empty = []
    if asked.methods_unavailable and not other.methods_available:
        empty.append("method-unavailable")
    if asked.dropped_days and not other.theatre_days:
        empty.append("drop-day")
    return [_fault("what-if-leaves-nothing", name) for name in empty]


def _fault(error_id: str, condition: str) -> Fault:
    return Fault(error_id, _EXPRESSION, (("condition", condition),))
