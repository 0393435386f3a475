"""Which of several statements of the same thing counts: the latest; a contradiction is a fault."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable
from datetime import datetime

from service.fhir.read_context import ReadContext
from service.fhir.read_statements import Statement


def _subject_of(statement: Statement) -> Hashable:
    """What a statement is about: same code, site, surface, depth and Procedure."""
    part_of = statement.part_of.key if statement.part_of else None
    surface = statement.components.get("surface")
    return (statement.profile.code, statement.site, surface, statement.components.get("burn-depth"), part_of)


def _content_of(statement: Statement) -> Hashable:
    return (statement.value, tuple(sorted((k, str(v)) for k, v in statement.components.items())))


def _later_ones(statements: list[Statement]) -> list[Statement]:
    """Statements of the last day; of the last instant when every one of that day has an instant."""
    last_day = max(s.moment.day for s in statements)
    same_day = [s for s in statements if s.moment.day == last_day]
    if any(s.moment.instant is None for s in same_day):
        return same_day
    last = max(s.moment.instant for s in same_day)
    return [s for s in same_day if s.moment.instant == last]


def _last_issued(statements: list[Statement]) -> list[Statement]:
    """Of statements about one moment those issued last, when every one says when it was issued."""
    if not all("issued" in s.entry.resource for s in statements):
        return statements
    issued = [datetime.fromisoformat(str(s.entry.resource["issued"])) for s in statements]
    return [s for s, when in zip(statements, issued, strict=True) if when == max(issued)]


def _pick(statements: list[Statement], context: ReadContext) -> Statement | None:
    last = _last_issued(_later_ones(statements))
    if len({_content_of(s) for s in last}) > 1:
        for statement in last:
            context.log.fault("same-time-twice", statement.expression)
        return None
    for statement in statements:
        if statement is not last[0]:
            reason = "duplicate-resource" if statement in last else "superseded"
            context.log.put_aside(reason, statement.expression, "Observation")
    return last[0]


def pick_latest(statements: Iterable[Statement], context: ReadContext) -> tuple[Statement, ...]:
    """The statement that counts for each thing, in the order of the request.

    A statement without its value never displaces one that has it.
    """
    groups: dict[Hashable, list[Statement]] = defaultdict(list)
    for statement in statements:
        groups[_subject_of(statement)].append(statement)
    picked = []
    for group in groups.values():
        with_value = [s for s in group if s.value is not None]
        for statement in group:
            if with_value and statement.value is None:
                context.log.put_aside("data-absent", statement.expression, "Observation")
        chosen = _pick(with_value or group, context)
        if chosen:
            picked.append(chosen)
    return tuple(picked)
