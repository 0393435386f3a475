"""Numbers of places on a sheet: one number for one place on every page of it."""

from __future__ import annotations

from service.domain.answer import PlanAnswer
from service.domain.body_region import Place, all_places


def wound_places(answer: PlanAnswer) -> dict[str, Place]:
    """The place of each wound of the case, by wound id."""
    return {wound.wound_id: wound.place for wound in answer.case.wounds}


def donor_places(answer: PlanAnswer) -> dict[str, Place]:
    """The place of each donor site of the case, by site id."""
    return {site.site_id: site.place for site in answer.case.donor_sites}


def number_places(answer: PlanAnswer) -> dict[Place, int]:
    """Wounds and donor sites counted together from 1, from head to foot."""
    used = {*wound_places(answer).values(), *donor_places(answer).values()}
    return {place: number for number, place in enumerate((p for p in all_places() if p in used), start=1)}
