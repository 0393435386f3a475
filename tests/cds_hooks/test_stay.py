"""A stay of 60 days with many openings a day: readers are told what is new, and are left in peace otherwise."""

from statistics import median

import pytest

from service.settings import Settings
from service.wiring import build_parts
from tests.cds_hooks.conftest import Record, sample
from tests.cds_hooks.stay import HOURS, Stay, play

DAYS = 60


@pytest.fixture(scope="module")
def stay() -> Stay:
    settings = Settings(database="memory")
    return play(sample("hands-and-face-12-percent"), DAYS, Record(settings).cards, build_parts(settings))


def test_at_most_one_card_a_day_on_median_and_never_one_an_opening(stay):
    assert len(stay.openings) == DAYS * len(HOURS)
    assert median(stay.cards_a_day) <= 1
    assert max(stay.cards_a_day) <= 2


def test_at_most_one_card_in_twenty_repeats_another(stay):
    assert stay.repeated_share <= 0.05


def test_it_is_not_silence_that_keeps_the_peace(stay):
    """Every session is announced on the day before it, and every graft is asked about."""
    said = " ".join(card["summary"] for card in stay.cards)
    assert said.count("Session on") >= 3 and said.count("Read graft") >= 3


def test_who_looks_in_once_a_day_misses_no_day_with_news(stay):
    with_news = {o.day for o in stay.openings if o.card}
    assert len(with_news) >= len(stay.cards) * 2 / 3
