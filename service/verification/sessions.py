"""Rules of the sessions: when they are held and what they are for."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from service.domain.rule import Rule
from service.domain.session import Session
from service.verification.exact import exact
from service.verification.under_review import PlanUnderReview
from service.verification.violation import Violation


def nothing_without_a_session(review: PlanUnderReview) -> Iterator[Violation]:
    """Every act lies on the day of a session of its kind, and every session has an act."""
    yield from _sessions_out_of_line(review)
    yield from _acts_without_session(review)


def _sessions_out_of_line(review: PlanUnderReview) -> Iterator[Violation]:
    """Ordinals count 1, 2, 3 and so on, days rise with them, between first session and horizon."""
    rule = Rule.NOTHING_WITHOUT_A_SESSION
    plan, case = review.plan, review.case
    acts = (*plan.excisions, *plan.harvests, *plan.placements, *plan.covers)
    days_with_acts = {act.day for act in acts}
    sessions = _in_order(review)
    for expected, session in enumerate(sessions, start=1):
        is_in_time = case.first_session_day <= session.day <= case.horizon_day
        if session.ordinal != expected or not is_in_time or session.day not in days_with_acts:
            yield Violation(rule, _name(session), session.day)
    for earlier, later in pairwise(sessions):
        if later.day <= earlier.day:
            yield Violation(rule, _name(later), later.day)


def _acts_without_session(review: PlanUnderReview) -> Iterator[Violation]:
    """Excisions and firm grafts need a firm session, regrafts a contingent one, the rest either."""
    rule = Rule.NOTHING_WITHOUT_A_SESSION
    plan = review.plan
    firm = {s.day for s in plan.sessions if not s.is_contingent}
    contingent = {s.day for s in plan.sessions if s.is_contingent}
    for excision in plan.excisions:
        if excision.day not in firm:
            yield Violation(rule, excision.wound_id, excision.day)
    for placement in plan.placements:
        if placement.day not in (contingent if placement.is_regraft else firm):
            yield Violation(rule, placement.wound_id, placement.day)
    for harvest in plan.harvests:
        if harvest.day not in firm | contingent:
            yield Violation(rule, harvest.site_id, harvest.day)
    for cover in plan.covers:
        if cover.day not in firm | contingent:
            yield Violation(rule, cover.wound_id, cover.day)


def theatre_day(review: PlanUnderReview) -> Iterator[Violation]:
    """Where theatre days are stated: each session on one of them, within its minutes and positions."""
    stated = review.case.request.theatre_days
    if not stated:
        return
    around_procedure = sum(
        review.number("theatre-minutes", part) for part in ("induction", "preparation", "exit"))
    for session in review.plan.sessions:
        rooms = [room for room in stated if review.case.day_of(room.day) == session.day]
        in_room_minutes = around_procedure + session.procedure_minutes
        fits = all(
            (room.minutes is None or exact(room.minutes) >= in_room_minutes)
            and (room.positions is None or room.positions >= len(session.positions))
            for room in rooms
        )
        if not rooms or not fits:
            yield Violation(Rule.THEATRE_DAY, _name(session), session.day)


def rest_between_sessions(review: PlanUnderReview) -> Iterator[Violation]:
    """Day of a session − day of the session before it ≥ rest days."""
    for earlier, later in pairwise(sorted(review.plan.sessions, key=lambda session: session.day)):
        if later.day - earlier.day < review.case.limits.rest_days:
            yield Violation(Rule.REST_BETWEEN_SESSIONS, _name(later), later.day)


def _in_order(review: PlanUnderReview) -> list[Session]:
    return sorted(review.plan.sessions, key=lambda session: (session.ordinal, session.day))


def _name(session: Session) -> str:
    return f"session-{session.ordinal}"
