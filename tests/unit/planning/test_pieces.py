"""Pieces cut from a class of wounds: whatever is wanted, none is below the smallest."""

from __future__ import annotations

from types import SimpleNamespace

from hypothesis import given
from hypothesis import strategies as st

from service.planning.pieces import cut_pieces

SMALLEST = 90
wound_areas = st.lists(st.integers(1, 2000), min_size=1, max_size=6)


def wounds_of(areas: list[int]) -> list[SimpleNamespace]:
    return [SimpleNamespace(wound_id=f"w{i}", area=area, piece=min(SMALLEST, area), region_order=i, is_whole=False)
            for i, area in enumerate(areas)]


@given(wound_areas, st.lists(st.floats(0, 1), min_size=1, max_size=3))
def test_no_piece_is_below_the_smallest_on_the_wound_or_left_behind(areas, shares):
    wounds, left = wounds_of(areas), {f"w{i}": area for i, area in enumerate(areas)}
    wanted = [(f"option {i}", int(share * sum(areas) / len(shares))) for i, share in enumerate(shares)]
    pieces = cut_pieces(wanted, wounds, left)
    assert all(p.area >= p.wound.piece for p in pieces)
    for wound in wounds:
        taken = sum(p.area for p in pieces if p.wound is wound)
        assert left[wound.wound_id] == wound.area - taken
        assert left[wound.wound_id] == 0 or left[wound.wound_id] >= wound.piece
    for option, area in wanted:
        assert sum(p.area for p in pieces if p.option == option) <= area


@given(st.lists(st.integers(2 * SMALLEST, 2000), min_size=2, max_size=6), st.floats(0.2, 0.9))
def test_what_is_wanted_of_large_wounds_is_given_but_for_less_than_a_piece(areas, share):
    wounds, left = wounds_of(areas), {f"w{i}": area for i, area in enumerate(areas)}
    wanted = int(share * sum(areas))
    pieces = cut_pieces([("island", wanted)], wounds, left)
    assert 0 <= wanted - sum(p.area for p in pieces) < SMALLEST


def test_a_wound_begun_is_finished_first_and_one_more_is_begun():
    wounds, left = wounds_of([1000, 600, 400]), {"w0": 1000, "w1": 300, "w2": 400}
    pieces = cut_pieces([("mesh", 1000)], wounds, left)
    assert [(p.wound.wound_id, p.area) for p in pieces] == [("w1", 300), ("w2", 400), ("w0", 300)]
    assert left == {"w0": 700, "w1": 0, "w2": 0}


def test_a_whole_region_is_not_begun():
    wounds, left = wounds_of([1000]), {"w0": 1000}
    wounds[0].is_whole = True
    assert cut_pieces([("sheet", 999)], wounds, left) == []
    assert [p.area for p in cut_pieces([("sheet", 1000)], wounds, left)] == [1000]
