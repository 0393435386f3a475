"""Books of planned courses to simulate: invented adults at several burn sizes, with what bends a course."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from service.assessment.assess import assess_case
from service.domain.body_region import Region
from service.domain.case import KeepFor, TheatreDay
from service.evidence.library import load_evidence
from service.planning.quantities import PlanningQuantities
from service.planning.rule_of_thumb import best_by_rule_of_thumb
from service.preferences.library import load_preferences
from service.simulation.course_book import CourseBook, write_book
from service.simulation.draws import Draws
from service.simulation.scenarios import Parameters, Scenarios
from tests.published_bands.courses import draw_extents
from tests.records import TODAY, measured, patient, record, request

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
EVERY_THIRD_DAY = tuple(TheatreDay(TODAY.fromordinal(TODAY.toordinal() + day), minutes=300, positions=1 + day % 2)
                        for day in range(0, 90, 3))


@dataclass(frozen=True)
class Setting:
    """What the caller states beside the burn."""

    name: str
    request: tuple[tuple[str, object], ...] = ()
    off_loading: bool = True


SETTINGS = (
    Setting("usual", (("transfusion_units", 10),)),
    Setting("cover", (("transfusion_units", 10), ("cover_stock_cm2", Decimal(9000)))),
    Setting("no off-loading, kept skin", (
        ("transfusion_units", 6), ("keep_for", (KeepFor(Region.FACE, Decimal(150)),))), off_loading=False),
    Setting("theatre every third day", (("transfusion_units", 10), ("theatre_days", EVERY_THIRD_DAY))),
)


@lru_cache(maxsize=64)
def book_of(percent: int, seed: int, setting: Setting = SETTINGS[0]) -> CourseBook:
    """The book of an invented adult of 75 kg with a burn of that size. [%TBSA]"""
    person = patient(weight_kg=measured("75"), height_cm=measured("175"), haemoglobin_g_dl=measured("13"),
                     off_loading_available=setting.off_loading)
    case = assess_case(record(*draw_extents(percent, seed), patient=person), request(**dict(setting.request)),
                       EVIDENCE, PREFERENCES)
    plan = best_by_rule_of_thumb(case, EVIDENCE, PREFERENCES).plan
    return write_book(PlanningQuantities(case, EVIDENCE, PREFERENCES), plan)


def scenarios_of(size: int, seed: int = 1, parameters: Parameters = Parameters.RANGES) -> Scenarios:
    return Scenarios(EVIDENCE, Draws(seed, 0, size), parameters)
