"""The 154 burn sizes and sites of the KMsurv ``burn`` set, planned and verified.

Real: the size of the burn, the flagged sites, sex, scald or not, inhalation injury (KMsurv
``burn``); age, weight and height, three numbers of one person, of the openintro ``bdims`` set,
drawn within the same sex at a fixed seed.

Ours: the side and surface (a drawn order of the flagged places, each taking a drawn share of
itself, then filling up; what the flagged places cannot hold goes to arms, hands, neck, feet,
then anywhere), the depth (a scald deep partial, otherwise two thirds full thickness), the
haemoglobin (12 g/dL), and the dates. They are sizes and sites, nothing more: what was done to
these patients and how they fared is not used and not claimed.
"""

from collections import Counter
from decimal import Decimal

import pytest

from service.domain.plan import PlanOutcome
from service.evidence.library import load_evidence
from service.preferences.library import load_preferences
from service.settings import Settings
from service.verification.verify import verify_plan
from service.wiring import answer_plan_request, build_parts
from tests.real_input.burn_set import make_request, real_burns


def test_the_set_is_the_published_one():
    sizes = Counter(burn.percent_tbsa for burn in real_burns())
    assert len(real_burns()) == 154
    assert (min(sizes), max(sizes)) == (Decimal(2), Decimal(95))
    assert sum(size * count for size, count in sizes.items()) == 3803


@pytest.mark.parametrize("burn", real_burns(), ids=lambda burn: f"row-{burn.number}")
def test_it_is_planned_and_verified(burn):
    reply = answer_plan_request(build_parts(Settings()), make_request(burn))
    answer = reply.answer
    assert answer is not None, reply.summary
    assert answer.case.burn_percent_tbsa == burn.percent_tbsa
    assert answer.plan.outcome is not PlanOutcome.NO_PLAN
    assert answer.plan.settled.firm_sessions
    assert verify_plan(answer.case, answer.plan.settled, load_evidence(), load_preferences()) == ()
