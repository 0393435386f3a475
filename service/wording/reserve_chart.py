"""The donor reserve over time as characters: one line a site, one column a day or a step of days."""

from __future__ import annotations

from collections import defaultdict
from decimal import Decimal

from service.domain.answer import PlanAnswer
from service.domain.plan import LedgerEntry
from service.wording.places import place_in_words
from service.wording.text_table import WIDTH, heading, paragraph

_NAME = 24
_COLUMNS = WIDTH - _NAME
_NONE, _ALL = ".", "#"


def write_reserve_chart(answer: PlanAnswer) -> list[str]:
    """Tenths of each site that may be harvested, day by day; ``#`` is all of it, ``.`` less than a tenth.

    A supply is rounded down: a column shows the least of its days.
    """
    by_site: dict[str, list[LedgerEntry]] = defaultdict(list)
    for entry in answer.plan.ledger:
        by_site[entry.site_id].append(entry)
    if not by_site:
        return []
    days = [*(entry.day for entry in answer.plan.ledger), *(session.day for session in answer.plan.settled.sessions)]
    first, last = min(days), max(days)
    step = -(-(last - first + 1) // _COLUMNS)
    starts = range(first, last + 1, step)
    lines = heading("Donor skin in reserve, tenths of each site")
    lines += _session_marks(answer, starts, step)
    lines += [_line(place_in_words(site), entries, starts, step) for site, entries in by_site.items()]
    unit = "a day" if step == 1 else f"{step} days"
    return lines + paragraph(
        f"A column is {unit}, from {answer.case.date_of(first)} to {answer.case.date_of(last)}. "
        f"{_ALL}: all may be harvested; 1 to 9: so many tenths; {_NONE}: less than a tenth. Sessions above by number.")


def _session_marks(answer: PlanAnswer, starts: range, step: int) -> list[str]:
    """The last digit of each session above its column."""
    marks = [" "] * len(starts)
    for session in answer.plan.settled.sessions:
        marks[(session.day - starts.start) // step] = str(session.ordinal)[-1]
    return [f"{'session':<{_NAME}}{''.join(marks)}".rstrip()]


def _line(name: str, entries: list[LedgerEntry], starts: range, step: int) -> str:
    columns = (min(_share(entries, day) for day in range(start, start + step)) for start in starts)
    return f"{name:<{_NAME}}{''.join(map(_character, columns))}"


def _share(entries: list[LedgerEntry], day: int) -> Decimal:
    """Usable share of a site on a day. [0-1]"""
    held = max((e for e in entries if e.day <= day), key=lambda e: e.day, default=entries[0])
    whole = held.usable_cm2 + held.healing_cm2 + held.spent_cm2
    return held.usable_cm2 / whole if whole else Decimal(0)


def _character(share: Decimal) -> str:
    if share == 1:
        return _ALL
    return str(int(share * 10)) if share * 10 >= 1 else _NONE
