"""Every state that can be recorded has its words in what changed since the plan before."""

from datetime import date

import pytest

from service.domain.burn_wound import BedState
from service.domain.donor_site import DonorState
from service.domain.plan_difference import RecordChange, RecordChangeKind
from service.wording.languages import Words, languages
from service.wording.plan_difference import word_record_change

DAY = date(2031, 3, 5)
STATES = [(RecordChangeKind.DONOR_STATE, state) for state in DonorState] + [
    (RecordChangeKind.BED, state) for state in BedState]


@pytest.mark.parametrize("kind, state", STATES)
@pytest.mark.parametrize("code", sorted(languages()))
def test_every_state_is_worded(kind, state, code):
    change = RecordChange(kind, DAY, place="left-thigh-front", values=(("state", str(state)),))
    said = word_record_change(change, Words(languages()[code]))
    assert "2031-03-05" in said
    assert ("left thigh" in said) is (code == "en")


def test_a_donor_state_reads_as_a_clause():
    change = RecordChange(
        RecordChangeKind.DONOR_STATE, DAY, place="left-thigh-front", values=(("state", "healing"),))
    assert word_record_change(change) == "left thigh, front was recorded as still healing on 2031-03-05 Wed"
    assert word_record_change(change, Words(languages()["de"])) == (
        "Oberschenkel links, vorn am 2031-03-05 Wed dokumentiert als: noch heilend")
