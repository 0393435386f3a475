"""Plans of patients from whom something was learnt: verified like any, and never freer with skin than without it."""

from datetime import timedelta
from decimal import Decimal

import pytest

from service.domain.body_region import Region, Side
from service.domain.donor_site import DonorState, DonorStateRecord, HarvestRecord
from service.domain.learning import LearnedAbout
from service.domain.plan import PlanOutcome
from tests.negative.example import plan
from tests.records import TODAY, burn, place

THIGH, OTHER_THIGH = place(Region.THIGH, Side.LEFT), place(Region.THIGH, Side.RIGHT)
BURNS = [burn(place(Region.ANTERIOR_TRUNK), "9"), burn(place(Region.POSTERIOR_TRUNK), "9"),
         burn(place(Region.UPPER_ARM, Side.LEFT), "2")]
AGO = 20


def planned(*seen):
    """A plan after two harvests of one day; ``seen`` are days after it and what the left thigh looked like."""
    day = TODAY - timedelta(days=AGO)
    harvests = tuple(HarvestRecord(site, day, Decimal(200), Decimal("0.22"), f"entry[{number}]")
                     for number, site in enumerate((THIGH, OTHER_THIGH)))
    states = tuple(DonorStateRecord(THIGH, state, day + timedelta(days=days), "entry[8]") for days, state in seen)
    return plan(*BURNS, record_changes={"harvests": harvests, "donor_states": states})


def free_day(answer, site):
    (found,) = (s for s in answer.case.donor_sites if s.site_id == site.key)
    return max(parcel.healed_day for parcel in found.parcels if parcel.harvest_count)


@pytest.mark.parametrize(("seen", "waits_longer"), [
    ([(8, DonorState.HEALED)], False),
    ([(AGO, DonorState.HEALING)], True),
])
def test_the_other_site_of_a_slow_healer_waits_longer_and_that_of_a_fast_one_no_shorter(seen, waits_longer):
    without, learnt = planned(), planned(*seen)
    assert without.learned == ()
    assert [one.about for one in learnt.learned] == [LearnedAbout.DONOR_HEALING]
    assert learnt.plan.outcome is not PlanOutcome.NO_PLAN  # and so it has been verified
    later = free_day(learnt, OTHER_THIGH) - free_day(without, OTHER_THIGH)
    assert later > 0 if waits_longer else later == 0
