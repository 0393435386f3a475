"""Synthetic patients at published case mixes, each planned by the service from the second day on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from enum import StrEnum
from functools import lru_cache
from random import Random

from service.domain.answer import PlanAnswer
from service.domain.body_region import Region, all_places
from service.domain.burn_wound import ZERO
from service.domain.donor_site import DonorState, DonorStateRecord
from service.domain.graft import GraftKind, GraftMethod
from service.domain.patient import BirthDate
from service.evidence.library import load_evidence
from service.formulas.body_chart import place_percentages
from service.plan_grafting import plan_grafting
from service.preferences.library import load_preferences
from tests.records import TODAY, burn, measured, patient, record, request

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
#: Deep burn of adults with large burns as series of island grafts report them. [%TBSA]
ADULT_PERCENTS = (35, 45, 55, 65, 75)
#: Burn of the old: none of the published series survived much more. [%TBSA]
OLD_PERCENTS = (15, 25)
SEEDS = (1, 2, 3)
ADULT, OLD = BirthDate(1986, 1, 1), BirthDate(1954, 1, 1)
GROWN_UP_YEARS = Decimal(40)
STEP = Decimal("0.1")


@dataclass(frozen=True)
class Course:
    """A planned course in the numbers that publications print. Areas in %TBSA, days from the injury."""

    burn_percent_tbsa: int
    seed: int
    session_percents: tuple[Decimal, ...]
    island_percents: tuple[Decimal, ...]
    donor_percent: Decimal
    island_skin_percent: Decimal
    open_percent: Decimal
    closure_day: int | None
    binding_rules: tuple[str, ...]
    method_percents: tuple[tuple[GraftMethod, Decimal], ...]

    def percent_by(self, methods: Iterable[GraftMethod]) -> Decimal:
        """Area grafted by any of the methods. [%TBSA]"""
        return sum((percent for method, percent in self.method_percents if method in set(methods)), ZERO)

    @property
    def sessions_count(self) -> int:
        return len(self.session_percents)


def draw_extents(percent: int, seed: int):
    """Deep burns on whole places drawn at random, the last one in part, until the burn is as large as asked for."""
    shares = place_percentages(EVIDENCE, GROWN_UP_YEARS)
    places = sorted((p for p in shares if p.region is not Region.GENITALIA), key=lambda place: place.key)
    Random(f"{percent}/{seed}").shuffle(places)
    left, extents = Decimal(percent), []
    for place in places:
        share = min(left, shares[place].quantize(STEP, ROUND_FLOOR))
        if share > 0:
            extents.append(burn(place, str(share)))
            left -= share
    return extents


class Practice(StrEnum):
    """How freely a session may be filled: as planned when nothing is said, or with all that spares blood."""

    USUAL = "usual"
    BLOOD_SPARING = "blood sparing"


#: Tourniquets, the whole blood volume replaced, lists of a whole day: what lets a session be larger.
REQUESTS = {
    Practice.USUAL: {"transfusion_units": 10},
    Practice.BLOOD_SPARING: {
        "transfusion_units": 60, "limb_tourniquet": True,
        "preferences": (("blood-volume-fraction", Decimal(1)), ("minutes-hard", Decimal(480)))},
}


@lru_cache(maxsize=128)
def answer_for(percent: int, seed: int, born: BirthDate, practice: Practice,
               no_donors: tuple[Region, ...] = ()) -> PlanAnswer:
    """Plan one patient of 75 kg and 175 cm with haemoglobin 13 g/dL; red-cell units stated, no cover.

    ``no_donors`` are regions whose skin may not be used.
    """
    person = patient(birth_date=born, weight_kg=measured("75"), height_cm=measured("175"),
                     haemoglobin_g_dl=measured("13"))
    return plan_grafting(
        record(*draw_extents(percent, seed), patient=person, donor_states=_excluded(no_donors)),
        request(**REQUESTS[practice]), input_sha256="0" * 64, evidence=EVIDENCE, preferences=PREFERENCES,
        audit=lambda made: None)


def plan_course(percent: int, seed: int, born: BirthDate, practice: Practice,
                no_donors: tuple[Region, ...] = ()) -> Course:
    """A planned course in the numbers that publications print."""
    return _measure(percent, seed, answer_for(percent, seed, born, practice, no_donors))


def _excluded(regions: tuple[Region, ...]) -> tuple[DonorStateRecord, ...]:
    places = (place for place in all_places() if place.region in regions)
    return tuple(DonorStateRecord(place, DonorState.EXCLUDED, TODAY, f"entry[{place.key}]") for place in places)


def _measure(percent: int, seed: int, answer: PlanAnswer) -> Course:
    case, settled = answer.case, answer.plan.settled
    days = [session.day for session in settled.firm_sessions]
    firm = [p for p in settled.placements if not p.is_regraft]
    islands = [p for p in firm if p.method.kind is GraftKind.ISLAND]
    closure_day = answer.plan.closure_day

    def percent_of(areas: Iterable[Decimal]) -> Decimal:
        return case.percent_tbsa(sum(areas, ZERO)).quantize(STEP)

    def by_session(placements) -> tuple[Decimal, ...]:
        sums = (percent_of(p.area_cm2 for p in placements if p.day == day) for day in days)
        return tuple(area for area in sums if area)

    return Course(
        burn_percent_tbsa=percent,
        seed=seed,
        session_percents=by_session(firm),
        island_percents=by_session(islands),
        donor_percent=percent_of(h.area_cm2 for h in settled.harvests if h.harvest_number == 1),
        island_skin_percent=percent_of(p.skin_cm2 for p in islands),
        open_percent=percent_of((settled.open_cm2,)),
        closure_day=None if closure_day is None else closure_day - case.injury_day,
        binding_rules=tuple(rule for session in settled.firm_sessions for rule in session.binding_rules),
        method_percents=tuple((m, percent_of(p.area_cm2 for p in firm if p.method is m)) for m in GraftMethod),
    )


def adult_courses(practice: Practice) -> tuple[Course, ...]:
    """Every adult course: three patients of each burn size."""
    return tuple(plan_course(percent, seed, ADULT, practice) for percent in ADULT_PERCENTS for seed in SEEDS)


def old_courses(practice: Practice) -> tuple[Course, ...]:
    return tuple(plan_course(percent, seed, OLD, practice) for percent in OLD_PERCENTS for seed in SEEDS)
