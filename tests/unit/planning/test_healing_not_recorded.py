"""All donor skin was harvested and none is recorded as healed: no session, and the answer says why."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from service.assessment.assess import assess_case
from service.domain.body_region import Region
from service.domain.donor_site import DonorState, DonorStateRecord, HarvestRecord
from service.evidence.library import load_evidence
from service.plan_grafting import plan_grafting
from service.preferences.library import load_preferences
from tests.records import burn, place, record, request

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
TRUNK = burn(place(Region.ANTERIOR_TRUNK), "10")
ON_DAY_6 = request(as_of=datetime(2026, 3, 14, 8, tzinfo=UTC))
FREE = assess_case(record(TRUNK), ON_DAY_6, EVIDENCE, PREFERENCES).donor_sites
HARVESTED = tuple(HarvestRecord(site.place, date(2026, 3, 8), site.area_cm2, Decimal("0.22"), f"entry[{site.site_id}]")
                  for site in FREE)


def answer_to(*states: DonorStateRecord, harvests=HARVESTED):
    return plan_grafting(record(TRUNK, harvests=harvests, donor_states=states), ON_DAY_6, input_sha256="0" * 64,
                         evidence=EVIDENCE, preferences=PREFERENCES, audit=lambda _: None)


def test_it_is_said_with_the_days_of_expected_healing():
    answer = answer_to()
    (finding,) = (f for f in answer.findings if f.code == "no-skin-recorded-as-healed")
    assert not answer.plan.settled.firm_sessions
    # six days after the harvest: the scalp three days later (Farina 2010), the thighs last
    assert dict(finding.values) == {"first_date": "2026-03-17 Tue", "last_date": "2026-03-24 Tue"}
    assert "limit-keeps-open" not in {f.code for f in answer.findings}


def test_what_would_be_done_with_healed_skin_stands_beside_it():
    (healed,) = (v for v in answer_to().plan.variants if v.question == "donor-healed")
    assert healed.answer == "healed"


@pytest.mark.parametrize("answer", [
    lambda: answer_to(DonorStateRecord(FREE[0].place, DonorState.HEALED, date(2026, 3, 14), "entry[9]")),
    lambda: answer_to(harvests=HARVESTED[1:])], ids=["one site recorded as healed", "one site never harvested"])
def test_a_site_with_healed_skin_is_enough_for_a_session(answer):
    made = answer()
    assert "no-skin-recorded-as-healed" not in {f.code for f in made.findings}
    assert made.plan.settled.firm_sessions
