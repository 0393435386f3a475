"""Which position a session is held in: the one in which most urgent area is grafted."""

from __future__ import annotations

from service.domain.body_region import Position
from service.planning.calendar import positions_allowed
from service.planning.course import Course, Policy
from service.planning.session_filling import SessionDraft, fill_session

ONE_POSITION = tuple((position,) for position in Position)
TURNED = (tuple(Position),)


def best_draft(course: Course, day: int, policy: Policy, demand: dict[str, int], *,
               is_regraft: bool = False) -> SessionDraft | None:
    """The draft of a day with the highest weighted area; one position where a turn gains nothing.

    A regraft needs no excision: its bed counts as open.
    """
    choices = ONE_POSITION + (TURNED if positions_allowed(course.quantities.case, day) > 1 else ())
    drafts = []
    for positions in choices:
        draft = fill_session(course, day, positions, policy, demand, is_regraft=is_regraft)
        if draft is not None:
            drafts.append(draft)
            if draft.grafted == sum(demand.values()):
                break  # everything is grafted: another position gains nothing
    return max(drafts, key=SessionDraft.score, default=None)
