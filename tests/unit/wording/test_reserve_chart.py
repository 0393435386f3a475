"""The reserve chart says what the ledger says, in 80 columns, never more than there is."""

import pytest

from service.wording.places import place_in_words
from service.wording.reserve_chart import write_reserve_chart
from service.wording.text_table import WIDTH
from tests.planned_samples import PLANNED, reply_to


def chart_of(name):
    return write_reserve_chart(reply_to(name).answer)


@pytest.mark.parametrize("name", PLANNED)
def test_it_has_a_line_for_each_site_and_fits(name):
    lines, ledger = chart_of(name), reply_to(name).answer.plan.ledger
    assert all(len(line) <= WIDTH for line in lines)
    for site in {entry.site_id for entry in ledger}:
        assert sum(line.startswith(f"{place_in_words(site):<24}") for line in lines) == 1


@pytest.mark.parametrize("name", PLANNED)
def test_on_every_day_of_the_ledger_no_more_is_shown_than_may_be_harvested(name):
    answer, lines = reply_to(name).answer, chart_of(name)
    days = [entry.day for entry in answer.plan.ledger]
    step = -(-(max(days) - min(days) + 1) // (WIDTH - 24))
    for entry in answer.plan.ledger:
        whole = entry.usable_cm2 + entry.healing_cm2 + entry.spent_cm2
        line = next(one for one in lines if one.startswith(f"{place_in_words(entry.site_id):<24}"))
        shown = line[24 + (entry.day - min(days)) // step]
        tenths = {"#": 10, ".": 0}.get(shown, int(shown) if shown.isdigit() else 0)
        assert tenths * whole <= entry.usable_cm2 * 10


def test_sessions_stand_above_their_day():
    answer, lines = reply_to("adult-60-percent-first-plan").answer, chart_of("adult-60-percent-first-plan")
    first = min(entry.day for entry in answer.plan.ledger)
    marks = next(line for line in lines if line.startswith("session"))
    for session in answer.plan.settled.sessions:
        assert marks[24 + session.day - first] == str(session.ordinal)[-1]


def test_without_a_ledger_there_is_no_chart():
    assert chart_of("comfort-care") == []
