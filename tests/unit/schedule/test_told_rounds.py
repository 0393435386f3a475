"""A routine round of the ward is told once, whichever places join it; what is urgent or new is told."""

from decimal import Decimal

from service.domain.situation import DueItem, Situation

ROUND = "round change-donor-dressing ward:2026-03-17"


def item(*places: str, round_name: str | None = ROUND) -> DueItem:
    return DueItem(frozenset(f"change-donor-dressing {place}" for place in places), round_name=round_name)


def told_by(*items: DueItem) -> dict[str, Decimal | None]:
    return Situation(items).amounts_cm2


def test_a_place_that_joins_a_told_round_is_no_news():
    assert not item("left buttock", "back of trunk").is_news(told_by(item("left buttock")), Decimal("0.1"))


def test_a_round_of_another_day_is_news_where_it_has_a_new_place():
    other = item("back of trunk", round_name="round change-donor-dressing ward:2026-03-19")
    assert other.is_news(told_by(item("left buttock")), Decimal("0.1"))


def test_what_is_no_routine_round_is_told_whatever_rounds_were():
    urgent = item("back of trunk", round_name=None)
    assert urgent.is_news(told_by(item("left buttock")), Decimal("0.1"))
