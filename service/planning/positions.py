"""Which position a session is held in: the one in which most urgent area is grafted."""

from __future__ import annotations

from service.domain.body_region import Position
from service.domain.rule import Rule
from service.planning.calendar import positions_allowed
from service.planning.course import Course
from service.planning.session_filling import SessionAim, SessionDraft, fill_session

ONE_POSITION = tuple((position,) for position in Position)
TURNED = tuple(Position)
#: Limits that a turn does not widen: a session that meets one of them has nothing to turn for.
FULL = frozenset({Rule.SESSION_AREA, Rule.SESSION_BLOOD, Rule.SESSION_MINUTES})


def best_draft(course: Course, aim: SessionAim) -> SessionDraft | None:
    """The draft of a day with the highest weighted area; turned only where that gains something."""
    drafts = []
    for positions in ONE_POSITION:
        draft = fill_session(course, aim, positions)
        if draft is not None:
            drafts.append(draft)
            if draft.grafted == aim.wanted:
                break  # everything is grafted: another position gains nothing
    best = max(drafts, key=SessionDraft.score, default=None)
    is_full = best is not None and (best.binding & FULL or best.grafted == aim.wanted)
    if is_full or positions_allowed(course.quantities.case, aim.day) == len(ONE_POSITION[0]):
        return best
    turned = fill_session(course, aim, TURNED)
    return max((d for d in (best, turned) if d is not None), key=SessionDraft.score, default=None)
