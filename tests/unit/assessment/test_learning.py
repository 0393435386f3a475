"""What a record teaches: which readings count, and that nothing that is learnt frees skin earlier."""

from datetime import timedelta
from decimal import Decimal

import pytest

from service.assessment.assess import assess_case
from service.assessment.learning import evidence_of_patient, learn_from_record
from service.domain.body_region import Region, Side
from service.domain.case import PlacementRecord
from service.domain.donor_site import DonorState, DonorStateRecord, HarvestRecord
from service.domain.graft import GraftKind, GraftMethod, Thickness
from service.domain.learning import LearnedAbout
from service.evidence.donor_healing import healing_days
from service.evidence.library import load_evidence
from service.preferences.library import load_preferences
from tests.records import TODAY, burn, place, record, request

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
THIGH = place(Region.THIGH, Side.LEFT)
RIGHT_THIGH = place(Region.THIGH, Side.RIGHT)
BED = place(Region.ANTERIOR_TRUNK)
ISLANDS = next(method for method in GraftMethod if method.kind is GraftKind.ISLAND)


def learn(**of_record):
    case = assess_case(record(burn(BED, "5"), **of_record), request(), EVIDENCE, PREFERENCES)
    return case, {one.about: one for one in learn_from_record(case, EVIDENCE, PREFERENCES)}


def grafts(*takes, apart_days=5):
    first = TODAY - timedelta(days=60)
    return tuple(
        PlacementRecord(BED, first + timedelta(days=apart_days * number), Decimal(10), ISLANDS, f"entry[{number}]",
                        None if take is None else Decimal(take), first)
        for number, take in enumerate(takes))


def healing(*seen, days_ago=60, thickness="0.22", at=THIGH):
    """A harvest and what was seen of its site, each as days after it and state."""
    day = TODAY - timedelta(days=days_ago)
    states = tuple(DonorStateRecord(at, state, day + timedelta(days=days), f"entry[{days}]") for days, state in seen)
    harvest = HarvestRecord(at, day, Decimal(100), thickness and Decimal(thickness), "entry[1]")
    return {"harvests": (harvest,), "donor_states": states}


HEALING, HEALED = DonorState.HEALING, DonorState.HEALED


def test_a_record_without_readings_teaches_nothing():
    assert learn(placements=grafts(None))[1] == {}


def test_a_poor_take_lowers_what_is_expected_of_that_method_only():
    _, learned = learn(placements=grafts("0.5"))
    assert set(learned) == {LearnedAbout.ISLAND_TAKE}
    one = learned[LearnedAbout.ISLAND_TAKE]
    assert one.prior.value == EVIDENCE.value("take", "island")
    assert Decimal("0.5") < one.posterior.value < one.prior.value
    assert one.prior.low < one.prior.value < one.prior.high
    assert (one.reading_count, one.session_count, one.observed_ratio) == (1, 1, Decimal("0.500"))
    assert one.sources == ("entry[0]",)


def test_ten_consistent_readings_move_it_most_of_the_way():
    def expected(count):
        return learn(placements=grafts(*["0.5"] * count))[1][LearnedAbout.ISLAND_TAKE].posterior.value

    prior = EVIDENCE.value("take", "island")
    assert (prior - expected(1)) / (prior - Decimal("0.5")) < Decimal("0.35")
    assert (prior - expected(10)) / (prior - Decimal("0.5")) > Decimal("0.7")


def test_readings_of_one_session_count_less_than_those_of_several():
    together = learn(placements=grafts("0.5", "0.5", "0.5", apart_days=0))[1][LearnedAbout.ISLAND_TAKE]
    apart = learn(placements=grafts("0.5", "0.5", "0.5"))[1][LearnedAbout.ISLAND_TAKE]
    assert (together.session_count, apart.session_count) == (1, 3)
    assert apart.posterior.value < together.posterior.value


def test_the_order_of_the_record_changes_nothing():
    placed = grafts("0.5", "0.9", "0.7", apart_days=0) + grafts("0.2")
    assert learn(placements=placed)[1] == learn(placements=placed[::-1])[1]


def test_planner_and_verification_get_the_take_of_this_patient():
    _, learned = learn(placements=grafts("0.5", "0.6"))
    evidence = evidence_of_patient(EVIDENCE, tuple(learned.values()))
    value = learned[LearnedAbout.ISLAND_TAKE].posterior.value
    assert evidence.value("take", "island") == value == evidence.value("single-graft-take", "island")
    assert evidence.row("take", "island").low <= EVIDENCE.row("take", "island").low
    assert evidence.value("take", "sheet") == EVIDENCE.value("take", "sheet")
    assert evidence.sha256 == EVIDENCE.sha256


@pytest.mark.parametrize("takes", [("1", "1", "1", "1"), ("0", "0", "0", "0")])
def test_extreme_takes_stay_within_what_is_possible(takes):
    _, learned = learn(placements=grafts(*takes))
    belief = learned[LearnedAbout.ISLAND_TAKE].posterior
    assert 0 < belief.low <= belief.value <= belief.high < 1
    row = evidence_of_patient(EVIDENCE, tuple(learned.values())).row("single-graft-take", "island")
    assert 0 < row.value < 1


@pytest.mark.parametrize(("seen", "learns"), [
    ([(10, HEALED)], True),  # by the expected day
    ([(14, HEALING), (25, HEALED)], True),  # not yet, then healed
    ([(40, HEALED)], False),  # nobody looked before: it may have healed on any day
    ([(40, HEALING)], True),  # later than expected and still not healed
    ([(5, HEALING)], False),  # too early to say anything
])
def test_only_a_look_that_says_how_long_it_took_is_a_reading(seen, learns):
    assert (LearnedAbout.DONOR_HEALING in learn(**healing(*seen))[1]) is learns


def test_skin_of_unrecorded_thickness_teaches_nothing():
    assert learn(**healing((14, HEALING), (25, HEALED), thickness=None))[1] == {}


def test_a_look_after_the_next_harvest_belongs_to_that_one():
    first, second = healing((10, HEALED), (60, HEALED), days_ago=100), healing(days_ago=70)
    both = {"harvests": first["harvests"] + second["harvests"], "donor_states": first["donor_states"]}
    assert learn(**both)[1][LearnedAbout.DONOR_HEALING].reading_count == 1


def test_sites_of_one_session_count_once():
    left, right = healing((14, HEALING), (30, HEALED)), healing((14, HEALING), (30, HEALED), at=RIGHT_THIGH)
    both = {name: left[name] + right[name] for name in left}
    one, two = learn(**left)[1][LearnedAbout.DONOR_HEALING], learn(**both)[1][LearnedAbout.DONOR_HEALING]
    assert (two.reading_count, two.session_count) == (2, 1)
    assert two.posterior == one.posterior


def days_of_every_site(evidence, case):
    quantile = PREFERENCES.value("healing-quantile")
    return [healing_days(evidence, place(region), thickness, case.age_band, number, quantile)
            for region in (Region.SCALP, Region.POSTERIOR_TRUNK)
            for thickness in Thickness for number in (1, 2)]


@pytest.mark.parametrize("seen", [
    [(4, HEALED)], [(10, HEALED)], [(14, HEALING), (20, HEALED)], [(30, HEALING)], [(14, HEALING), (60, HEALED)]])
def test_nothing_that_is_learnt_lets_a_site_heal_earlier(seen):
    case, learned = learn(**healing(*seen))
    patient = days_of_every_site(evidence_of_patient(EVIDENCE, tuple(learned.values())), case)
    everybody = days_of_every_site(EVIDENCE, case)
    assert all(mine >= theirs for mine, theirs in zip(patient, everybody, strict=True))
    if learned[LearnedAbout.DONOR_HEALING].posterior.value > Decimal("1.1"):
        assert all(mine > theirs for mine, theirs in zip(patient, everybody, strict=True))


def test_a_slow_healer_waits_and_an_unrecorded_site_never_counts_in_the_next_session():
    slow = healing((14, HEALING), (45, HEALED))
    fresh = HarvestRecord(RIGHT_THIGH, TODAY - timedelta(days=10), Decimal(100), Decimal("0.22"), "entry[9]")
    of_record = slow | {"harvests": (*slow["harvests"], fresh)}
    case, learned = learn(**of_record)
    again = assess_case(case.record, case.request, evidence_of_patient(EVIDENCE, tuple(learned.values())), PREFERENCES)

    def parcel(of):
        site = next(s for s in of.donor_sites if s.site_id == RIGHT_THIGH.key)
        return next(p for p in site.parcels if p.harvest_count)

    assert parcel(again).healed_day > parcel(case).healed_day
    assert not parcel(again).healed_recorded
