"""Invented patients of 30 to 95 %TBSA for the benchmark: the same number gives the same record and request.

Every fourth is a child and every tenth is old; a third come with a session already done and skin
still healing, a third with temporary cover in stock, two fifths with stated theatre days.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import ROUND_FLOOR, Decimal
from random import Random

from service.domain.body_region import Place, Region
from service.domain.burn_wound import BurnExtent, Depth
from service.domain.case import BurnRecord, ExcisionRecord, PlacementRecord, PlanRequest, TheatreDay
from service.domain.donor_site import HarvestRecord
from service.domain.graft import GraftMethod
from service.domain.patient import BirthDate
from service.evidence.library import load_evidence
from service.formulas.body_chart import place_percentages
from tests.records import TODAY, burn, measured, patient, record, request

#: Burn sizes: sixty patients up to 65 %TBSA and forty above.
SIZES = tuple(30 + 35 * i // 59 for i in range(60)) + tuple(66 + 29 * i // 39 for i in range(40))
STEP = Decimal("0.1")
HORIZON = timedelta(days=90)


def draw_patient(number: int) -> tuple[BurnRecord, PlanRequest]:
    """Record and request of one invented patient; ``number`` counts from 0 to 99."""
    rng, size = Random(f"synthetic/{number}"), Decimal(SIZES[number])
    age_years = _age_years(number, rng)
    extents = _burns(size, age_years, rng)
    injured = TODAY - timedelta(days=rng.randint(12, 18) if number % 3 == 1 else rng.randint(1, 3))
    person = patient(
        birth_date=BirthDate(TODAY.year - age_years, 1, 1), injury=injured, off_loading_available=number % 2 == 0,
        haemoglobin_g_dl=measured(str(rng.choice(("10.5", "12", "13.5")))), **_body(age_years, rng))
    made = record(*extents, patient=person)
    if number % 3 == 1:
        made = _with_a_session_done(made, age_years, rng)
    return made, _request(number, rng)


def _age_years(number: int, rng: Random) -> int:
    if number % 4 == 1:
        return rng.randint(1, 15)
    if number % 10 == 7:
        return rng.randint(66, 80)
    return rng.randint(18, 64)


def _body(age_years: int, rng: Random) -> dict:
    """Weight and height that go with the age, roughly. [kg, cm]"""
    if age_years > 15:
        return {"weight_kg": measured(str(rng.randint(55, 105))), "height_cm": measured(str(rng.randint(155, 192)))}
    return {"weight_kg": measured(str(2 * age_years + 9)), "height_cm": measured(str(6 * age_years + 76))}


def _burns(size: Decimal, age_years: int, rng: Random) -> tuple[BurnExtent, ...]:
    """Places in a drawn order, each burned by a drawn share (wholly in the largest burns), until the size is met."""
    shares = place_percentages(load_evidence(), Decimal(age_years))
    places = sorted((p for p in shares if p.region is not Region.GENITALIA), key=lambda place: place.key)
    rng.shuffle(places)
    room = {p: Decimal(shares[p]).quantize(STEP, ROUND_FLOOR) for p in places}
    least = 10 if size > 65 else 5
    drawn = [(p, (room[p] * rng.randint(least, 10) / 10).quantize(STEP, ROUND_FLOOR)) for p in places]
    burned: dict[Place, Decimal] = {}
    for place, limit in (*drawn, *room.items()):
        part = min(size - sum(burned.values(), Decimal(0)), limit - burned.get(place, Decimal(0)))
        if part > 0:
            burned[place] = burned.get(place, Decimal(0)) + part
    depths = (Depth.FULL_THICKNESS, Depth.FULL_THICKNESS, Depth.DEEP_PARTIAL)
    return tuple(burn(place, str(percent), rng.choice(depths)) for place, percent in burned.items())


def _with_a_session_done(made: BurnRecord, age_years: int, rng: Random) -> BurnRecord:
    """Six to eight days ago two limbs were excised and grafted, and skin was harvested elsewhere."""
    day = TODAY - timedelta(days=rng.randint(6, 8))
    shares = place_percentages(load_evidence(), Decimal(age_years))
    cm2_of_percent = _roughly_m2(made) * 100
    burned = {e.place: e.percent_tbsa for e in made.extents}
    grafted = sorted((p for p in burned if p.facts.is_limb and burned[p] >= 1), key=lambda p: p.key)[:2]
    free = {p: Decimal(shares[p]) - burned.get(p, Decimal(0)) for p in shares if p.facts.gives_skin}
    donors = sorted((p for p in free if free[p] >= 1), key=lambda p: (-free[p], p.key))[:2]
    take = rng.choice((None, Decimal("0.85"), Decimal("0.95")))
    return replace(
        made,
        excisions=tuple(_excised(p, day, burned[p] * cm2_of_percent) for p in grafted),
        placements=tuple(_placed(p, day, burned[p] * cm2_of_percent, take) for p in grafted),
        harvests=tuple(HarvestRecord(p, day, (free[p] * cm2_of_percent / 2).quantize(STEP, ROUND_FLOOR),
                                     Decimal("0.2"), f"harvest-{p.key}") for p in donors))


def _roughly_m2(made: BurnRecord) -> Decimal:
    """Body surface, rounded down to a tenth, for the areas of the session that was done. [m²]"""
    weight, height = made.patient.weight_kg.value, made.patient.height_cm.value
    return (weight * height / 3600).sqrt().quantize(STEP, ROUND_FLOOR)


def _excised(place: Place, day: date, area_cm2: Decimal) -> ExcisionRecord:
    return ExcisionRecord(place, day, (area_cm2 * Decimal("0.8")).quantize(STEP), f"excision-{place.key}")


def _placed(place: Place, day: date, area_cm2: Decimal, take: Decimal | None) -> PlacementRecord:
    """Half of the place is grafted; ``take`` is read the day before today, or not yet."""
    return PlacementRecord(
        place, day, (area_cm2 / 2).quantize(STEP, ROUND_FLOOR), GraftMethod.MESHED_1_1_5, f"placement-{place.key}",
        take_fraction=take, take_day=None if take is None else TODAY - timedelta(days=1))


def _request(number: int, rng: Random) -> PlanRequest:
    changes: dict = {"transfusion_units": rng.choice((4, 8, 16)), "limb_tourniquet": number % 2 == 1}
    if number % 3 == 2:
        changes["cover_stock_cm2"] = Decimal(rng.choice((1000, 3000, 6000)))
    if number % 5 in (0, 3):
        weekdays, minutes = rng.choice((((0, 2, 4), None), ((1, 3), 420), ((0, 3), 360)))
        days = (TODAY + timedelta(days=ahead) for ahead in range(HORIZON.days + 1))
        changes["theatre_days"] = tuple(TheatreDay(day, minutes) for day in days if day.weekday() in weekdays)
    return request(**changes)
