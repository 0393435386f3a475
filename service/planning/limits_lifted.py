"""Limits that people set and could lift, each by its name, and the case without it.

Biology is not among them: skin heals no faster, and an infected bed stays ungrafted.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from service.domain.case import GraftingCase, PlanRequest, SessionLimits
from service.domain.graft import GraftMethod

_MANY = 100  # so many that nothing is limited any more


def _body_cm2(case: GraftingCase):
    return case.body_surface_m2 * 100 * 100


def _limits(case: GraftingCase, **changes) -> GraftingCase:
    limits: SessionLimits = replace(case.limits, **changes)
    return replace(case, limits=limits)


def _request(case: GraftingCase, **changes) -> GraftingCase:
    request: PlanRequest = replace(case.request, **changes)
    return replace(case, request=request)


def _without_area(case: GraftingCase) -> GraftingCase:
    return _limits(case, excised_cm2=_body_cm2(case), grafted_cm2=_body_cm2(case))


def _without_blood(case: GraftingCase) -> GraftingCase:
    """Blood for whatever a session costs: many times the patient's own volume."""
    return _limits(case, blood_ml=case.blood_volume_ml * _MANY)


def _without_minutes(case: GraftingCase) -> GraftingCase:
    days = tuple(replace(day, minutes=None) for day in case.request.theatre_days)
    return _limits(_request(case, theatre_days=days), procedure_minutes=_MANY * _MANY)


def _with_cover(case: GraftingCase) -> GraftingCase:
    return _request(case, cover_stock_cm2=_body_cm2(case) * 10)


def _without_kept(case: GraftingCase) -> GraftingCase:
    return _request(case, keep_for=())


def _with_every_day(case: GraftingCase) -> GraftingCase:
    return _request(case, theatre_days=())


def _with_every_method(case: GraftingCase) -> GraftingCase:
    return _request(case, methods_available=frozenset(GraftMethod))


def _off_loaded(case: GraftingCase) -> GraftingCase:
    return replace(case, off_loading=True)


def _with_more_harvests(case: GraftingCase) -> GraftingCase:
    sites = tuple(replace(site, harvests_allowed=_MANY) for site in case.donor_sites)
    return replace(case, donor_sites=sites)


#: Easiest to lift first: what a team can change by itself stands before what it has to be given.
LIFTS: dict[str, Callable[[GraftingCase], GraftingCase]] = {
    "theatre-days": _with_every_day,
    "session-blood": _without_blood,
    "session-minutes": _without_minutes,
    "session-area": _without_area,
    "cover-stock": _with_cover,
    "methods-at-hand": _with_every_method,
    "keep-for": _without_kept,
    "off-loading": _off_loaded,
    "rest-between-sessions": lambda case: _limits(case, rest_days=1),
    "harvest-count": _with_more_harvests,
}


def lifted(case: GraftingCase, names: tuple[str, ...]) -> GraftingCase:
    """The case without the named limits."""
    for name in names:
        case = LIFTS[name](case)
    return case


def limits_of(case: GraftingCase) -> tuple[str, ...]:
    """Limits that hold in a case: lifting any of them changes it."""
    return tuple(name for name, lift in LIFTS.items() if lift(case) != case)
