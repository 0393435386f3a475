"""The price of skin: nothing where skin is plenty, something where it is what sessions wait for."""

from decimal import Decimal

from service.domain.body_region import Place, Region, Surface
from service.domain.burn_wound import BurnWound, Depth
from service.domain.case import SessionLimits
from service.domain.donor_site import DonorParcel, DonorSite
from service.evidence.library import load_evidence
from service.planning.optimise import optimise_course
from service.preferences.library import load_preferences
from service.verification.verify import verify_plan
from tests.random_cases import grafting_case

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()


def prices(donor_cm2: int):
    """One burn of 5 %TBSA on the front of the trunk, one donor site on the scalp."""
    trunk = Place(Region.ANTERIOR_TRUNK, None, Surface.FRONT)
    scalp = Place(Region.SCALP, None, Surface.BACK)
    wound = BurnWound("trunk", trunk, Depth.FULL_THICKNESS, False, Decimal(900))
    site = DonorSite("scalp", scalp, Decimal(donor_cm2), 3, (DonorParcel(Decimal(donor_cm2)),))
    limits = SessionLimits(
        Decimal(3600), Decimal(3600), Decimal(4000), 240, 2, 2)
    case = grafting_case((wound,), (site,), limits=limits)
    found = optimise_course(case, EVIDENCE, PREFERENCES, seconds=1.0,
                            accepts=lambda plan: not verify_plan(case, plan, EVIDENCE, PREFERENCES))
    assert found.plan.open_cm2 == 0
    return found.skin_prices


def test_skin_that_is_plenty_has_no_price():
    assert prices(3000) == ()


def test_skin_that_is_short_has_one_and_it_is_that_of_its_site():
    short = prices(300)
    assert short and all(price.site_id == "scalp" and price.days_per_100_cm2 > 0 for price in short)
