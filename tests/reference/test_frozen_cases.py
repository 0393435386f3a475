"""The benchmark set is the frozen one, of the sizes that were promised, and every case can be planned."""

from collections import Counter

import pytest

from service.domain.case import SkinLimitAge
from service.verification.verify import verify_plan
from tests.bench.frozen_cases import BANDS, frozen_cases, read_checksums
from tests.reference.planned import EVIDENCE, PREFERENCES, synthetic_names, thumb_plan

SYNTHETIC = [frozen for frozen in frozen_cases() if frozen.name.startswith("synthetic")]


def test_every_case_has_its_frozen_checksum():
    assert {frozen.name: frozen.sha256 for frozen in frozen_cases()} == read_checksums()


def test_the_set_holds_what_it_says():
    assert Counter(frozen.name.split("/")[0] for frozen in frozen_cases()) == {"real": 154, "synthetic": 100}
    sizes = [frozen.case.burn_percent_tbsa for frozen in SYNTHETIC]
    assert (min(sizes), max(sizes), sum(size > 65 for size in sizes)) == (30, 95, 40)
    assert {frozen.band for frozen in frozen_cases()} == set(BANDS)
    cases = [frozen.case for frozen in SYNTHETIC]
    assert sum(case.age_years < 16 for case in cases) == 25
    assert any(case.age_band is SkinLimitAge.OLD for case in cases)
    with_history = [case for case in cases if any(wound.placed for wound in case.wounds)]
    assert len(with_history) == 33
    assert all(any(p.harvest_count and not p.healed_recorded for s in case.donor_sites for p in s.parcels)
               for case in with_history)
    assert sum(bool(case.request.cover_stock_cm2) for case in cases) == 33
    assert sum(bool(case.request.theatre_days) for case in cases) == 40


@pytest.mark.parametrize("name", synthetic_names())
def test_the_rule_of_thumb_plans_it_and_the_plan_verifies(name):
    """The published sizes are planned and verified in ``tests/real_input``."""
    case, plan = thumb_plan(name)
    assert plan.firm_sessions
    assert verify_plan(case, plan, EVIDENCE, PREFERENCES) == ()
