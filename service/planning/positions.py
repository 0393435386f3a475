"""Which position a session is held in: the one in which most urgent area is grafted."""

from __future__ import annotations

from service.domain.body_region import Position
from service.domain.rule import Rule
from service.planning.calendar import positions_allowed
from service.planning.course import Course, Policy
from service.planning.session_filling import SessionDraft, by_urgency, fill_session

ONE_POSITION = tuple((position,) for position in Position)
TURNED = tuple(Position)
#: Limits that a turn does not widen: a session that meets one of them has nothing to turn for.
FULL = frozenset({Rule.SESSION_AREA, Rule.SESSION_BLOOD, Rule.SESSION_MINUTES})


def best_draft(course: Course, day: int, policy: Policy, demand: dict[str, int], *,
               is_regraft: bool = False) -> SessionDraft | None:
    """The draft of a day with the highest weighted area; turned only where that gains something.

    A regraft needs no excision: its bed counts as open.
    """
    drafts, ordered = [], by_urgency(course, day, policy)
    for positions in ONE_POSITION:
        draft = fill_session(course, day, positions, policy, demand, ordered, is_regraft=is_regraft)
        if draft is not None:
            drafts.append(draft)
            if draft.grafted == sum(demand.values()):
                break  # everything is grafted: another position gains nothing
    best = max(drafts, key=SessionDraft.score, default=None)
    is_full = best is not None and (best.binding & FULL or best.grafted == sum(demand.values()))
    if is_full or positions_allowed(course.quantities.case, day) == len(ONE_POSITION[0]):
        return best
    turned = fill_session(course, day, TURNED, policy, demand, ordered, is_regraft=is_regraft)
    return max((d for d in (best, turned) if d is not None), key=SessionDraft.score, default=None)
