"""Fewest days with a disturbance: against trying every set of days, and by the rules of the trade."""

import random
from itertools import combinations

import pytest

from service.schedule.merging import Movable, choose_days
from service.schedule.windows import Window


def movable(key, earliest, day, latest, *, ward=None, theatre=()):
    window = Window(earliest, day, latest)
    return Movable(key, window, ward or window, frozenset(theatre))


def random_movables(seed):
    source = random.Random(seed)
    found = []
    for number in range(source.randint(1, 7)):
        earliest = source.randint(0, 9)
        latest = earliest + source.randint(0, 4)
        found.append(movable(f"event-{number}", earliest, source.randint(earliest, latest), latest))
    return found, frozenset(source.sample(range(14), source.randint(0, 3)))


def best_by_trying(movables, kept):
    """Fewest further days, then fewest days moved, over every set of further days."""
    others = [d for d in range(14) if d not in kept]
    for count in range(len(movables) + 1):
        moved = []
        for further in combinations(others, count):
            points = kept | set(further)
            costs = [
                min((abs(p - m.ward.day) for p in points if m.ward.earliest <= p <= m.ward.latest), default=None)
                for m in movables
            ]
            if None not in costs:
                moved.append(sum(costs))
        if moved:
            return count, min(moved)
    raise AssertionError("every event can have a day of its own")


@pytest.mark.parametrize("seed", range(60))
def test_no_set_of_days_is_better(seed):
    movables, kept = random_movables(seed)
    chosen = choose_days(movables, kept, 1)
    further = set(chosen.values()) - kept
    moved = sum(abs(chosen[m.key] - m.ward.day) for m in movables)
    assert (len(further), moved) == best_by_trying(movables, kept)


@pytest.mark.parametrize("seed", range(60))
def test_each_event_stays_in_its_window_and_the_order_of_events_changes_nothing(seed):
    movables, kept = random_movables(seed)
    chosen = choose_days(movables, kept, 1)
    assert all(m.ward.earliest <= chosen[m.key] <= m.ward.latest for m in movables)
    shuffled = random.Random(seed).sample(movables, len(movables))
    assert choose_days(shuffled, kept, 1) == chosen


@pytest.mark.parametrize(("theatre", "day"), [
    ((5,), 5), ((6,), 6), ((4,), 4),   # a visit on the day, the day after, the day before
    ((4, 6), 4),                       # the earlier of two
    ((7,), 5), ((3,), 5),              # too far: the event stays on the ward
])
def test_a_look_near_a_visit_goes_into_theatre(theatre, day):
    assert choose_days([movable("look", 3, 5, 8, theatre=theatre)], frozenset(), 1) == {"look": day}


def test_theatre_does_not_widen_a_window():
    """A first look at a sheet, due on day 1 or 2, is not kept for a visit on day 3."""
    assert choose_days([movable("sheet", 1, 2, 2, theatre=(3,))], frozenset(), 1) == {"sheet": 2}


def test_on_the_ward_the_narrower_window_holds():
    islands = movable("carrier", 6, 7, 14, ward=Window(6, 7, 7))
    assert choose_days([islands], frozenset({9}), 1) == {"carrier": 7}
    assert choose_days([islands], frozenset({6, 9}), 1) == {"carrier": 6}
