"""The price of skin: nothing where skin is plenty, something where it is what sessions wait for."""

from decimal import Decimal

import pytest

from service.domain.body_region import Place, Region, Surface
from service.domain.burn_wound import BurnWound, Depth
from service.domain.case import GraftingCase, SessionLimits
from service.domain.donor_site import DonorParcel, DonorSite
from service.domain.plan import SkinPrice
from service.evidence.library import load_evidence
from service.planning.chosen_days import solve_days
from service.planning.course_classes import merged_sites, single_wounds
from service.planning.course_model import Choices, Facts
from service.planning.optimise import OptimisedPlan, optimise_course
from service.planning.quantities import PlanningQuantities
from service.planning.wound_facts import WoundFacts
from service.preferences.library import load_preferences
from service.solver.highs import HighsSolver
from service.verification.verify import verify_plan
from tests.random_cases import grafting_case

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()


def short_case(donor_cm2: int) -> GraftingCase:
    """One burn of 5 %TBSA on the front of the trunk, one donor site on the scalp."""
    trunk = Place(Region.ANTERIOR_TRUNK, None, Surface.FRONT)
    scalp = Place(Region.SCALP, None, Surface.BACK)
    wound = BurnWound("trunk", trunk, Depth.FULL_THICKNESS, False, Decimal(900))
    site = DonorSite("scalp", scalp, Decimal(donor_cm2), 3, (DonorParcel(Decimal(donor_cm2)),))
    limits = SessionLimits(
        Decimal(3600), Decimal(3600), Decimal(4000), 240, 2, 2)
    return grafting_case((wound,), (site,), limits=limits)


def planned(donor_cm2: int) -> OptimisedPlan:
    case = short_case(donor_cm2)
    found = optimise_course(case, EVIDENCE, PREFERENCES, seconds=1.0,
                            accepts=lambda plan: not verify_plan(case, plan, EVIDENCE, PREFERENCES))
    assert found.plan.open_cm2 == 0
    return found


def prices(donor_cm2: int) -> tuple[SkinPrice, ...]:
    return planned(donor_cm2).skin_prices


def cost_of_days(donor_cm2: int, days: tuple[int, ...]) -> float:
    """What the same days cost at least with a donor site of a size. [%TBSA-days]"""
    case = short_case(donor_cm2)
    quantities = PlanningQuantities(case, EVIDENCE, PREFERENCES)
    wounds = single_wounds(quantities, tuple(WoundFacts(w, quantities) for w in case.wounds))
    facts = Facts(quantities, wounds, merged_sites(quantities), days[0])
    return solve_days(facts, days, Choices(), HighsSolver()).cost


def test_skin_that_is_plenty_has_no_price():
    assert prices(3000) == ()


def test_skin_that_is_short_has_one_and_it_is_that_of_its_site():
    short = prices(300)
    assert short and all(price.site_id == "scalp" and price.days_per_100_cm2 > 0 for price in short)


def test_the_price_is_what_the_days_cost_less_with_100_cm2_more():
    found = planned(300)
    days = tuple(session.day for session in found.plan.firm_sessions)
    saved = cost_of_days(300, days) - cost_of_days(400, days)
    (first,) = (price for price in found.skin_prices if price.day == days[0])
    assert float(first.days_per_100_cm2) == pytest.approx(saved, abs=0.2)
