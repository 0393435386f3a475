"""Which wounds of a class get an area that is wanted for the class: few pieces, none below the smallest."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from service.planning.course_classes import MethodOption
from service.planning.wound_facts import WoundFacts


@dataclass
class Piece:
    """A graft that is wanted. Area in tenths of a cm²."""

    wound: WoundFacts
    option: MethodOption
    area: int


def cut_pieces(wanted: Iterable[tuple[MethodOption, int]], wounds: Iterable[WoundFacts],
               left: dict[str, int]) -> list[Piece]:
    """Pieces that add up to what is wanted, or nearly.

    Wounds begun are finished first, then whole wounds, and one more is begun for the rest.

    Parameters
    ----------
    wanted : areas by option, in tenths of a cm²
    wounds : the class
    left : area still open by wound id, in tenths of a cm²; what the pieces take is taken from it
    """
    pieces: list[Piece] = []
    for option, area in sorted(wanted, key=lambda one: -one[1]):
        mine = [w for w in wounds if left.get(w.wound_id, 0) > 0]
        mine.sort(key=lambda w: (left[w.wound_id] == w.area, -left[w.wound_id], w.region_order, w.wound_id))
        pieces += _finish_and_begin(option, area, mine, left)
    return pieces


def _finish_and_begin(option: MethodOption, area: int, wounds: list[WoundFacts], left: dict[str, int]) -> list[Piece]:
    finished: list[Piece] = []
    for wound in wounds:
        if left[wound.wound_id] <= area:
            finished.append(Piece(wound, option, left[wound.wound_id]))
            area -= left[wound.wound_id]
            left[wound.wound_id] = 0
    for begin in (_begin, _begin_two, _begin_less):
        begun = begin(option, area, wounds, left)
        if begun:
            return finished + begun
    return finished + (_share(finished, option, area, wounds, left) if area > 0 else [])


def _begin(option: MethodOption, area: int, wounds: list[WoundFacts], left: dict[str, int]) -> list[Piece]:
    """A piece of the largest wound, if neither it nor what it leaves is below the smallest."""
    for wound in sorted(wounds, key=lambda w: -left[w.wound_id]):
        if not wound.is_whole and wound.piece <= area <= left[wound.wound_id] - wound.piece:
            left[wound.wound_id] -= area
            return [Piece(wound, option, area)]
    return []


def _begin_two(option: MethodOption, area: int, wounds: list[WoundFacts], left: dict[str, int]) -> list[Piece]:
    """Two pieces of two wounds where no wound can hold one."""
    for wound in sorted(wounds, key=lambda w: -left[w.wound_id]):
        most = min(area - wound.piece, left[wound.wound_id] - wound.piece)
        if most >= wound.piece:
            first = _begin(option, most, [wound], left)
            second = _begin(option, area - most, [w for w in wounds if w is not wound], left) if first else []
            if second:
                return first + second
            left[wound.wound_id] += most if first else 0
    return []


def _begin_less(option: MethodOption, area: int, wounds: list[WoundFacts], left: dict[str, int]) -> list[Piece]:
    """As much of one wound as leaves a smallest piece of it."""
    most = max((left[w.wound_id] - w.piece for w in wounds if not w.is_whole), default=0)
    return _begin(option, most, wounds, left) if most < area else []


def _share(finished: list[Piece], option: MethodOption, area: int, wounds: list[WoundFacts],
           left: dict[str, int]) -> list[Piece]:
    """A rest below the smallest piece, and a smallest piece of a finished wound, on another wound."""
    for piece in sorted(finished, key=lambda p: -p.area):
        smallest = piece.wound.piece
        if not piece.wound.is_whole and piece.area >= 2 * smallest:
            others = [w for w in wounds if w is not piece.wound]
            begun = _begin(option, area + smallest, others, left)
            if begun:
                piece.area -= smallest
                left[piece.wound.wound_id] = smallest
                return begun
    return []
