"""What readers made of their cards, counted by what the cards were about."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from service.domain.card import CardReport
from service.wording.text_table import Column, table

ACCEPTED, OVERRIDDEN = "accepted", "overridden"
_NO_REASON = "no reason given"
_TOTAL = "all cards"


@dataclass
class FeedbackCount:
    """Cards about one kind of thing. Each card counts once, by what was said to it last."""

    service_id: str
    situation: str
    shown: int = 0
    accepted: int = 0
    overridden: int = 0
    reasons: Counter[str] = field(default_factory=Counter)

    @property
    def unanswered(self) -> int:
        return self.shown - self.accepted - self.overridden

    def add(self, report: CardReport) -> None:
        self.shown += 1
        self.accepted += report.outcome == ACCEPTED
        self.overridden += report.outcome == OVERRIDDEN
        if report.outcome == OVERRIDDEN:
            self.reasons[report.reason_code or _NO_REASON] += 1


def count_feedback(reports: Iterable[CardReport]) -> list[FeedbackCount]:
    """One count for each service and kind of thing, most often shown first.

    Parameters
    ----------
    reports : iterable of CardReport
        In the order in which they came; of several about one card the last counts.
    """
    last = {report.card_id: report for report in reports}
    counts: dict[tuple[str, str], FeedbackCount] = {}
    for report in last.values():
        key = (report.service_id, report.situation)
        counts.setdefault(key, FeedbackCount(*key)).add(report)
    return sorted(counts.values(), key=lambda count: (-count.shown, count.service_id, count.situation))


def write_feedback(counts: Iterable[FeedbackCount]) -> str:
    """A table of what was shown, accepted and overridden, and one of the reasons; lines of at most 80 columns."""
    counts = list(counts)
    if not counts:
        return "No card was shown.\n"
    columns = [Column("About", 32), *(Column(name, 10, True) for name in (
        "Shown", "Accepted", "Overridden", "Unanswered"))]
    lines = table(columns, [*map(_cells, counts), *([_sum(counts)] if len(counts) > 1 else [])])
    reasons = _reasons(counts)
    if reasons:
        columns = [Column("Overridden because", 34), Column("Cards", 10, True), Column("About", 32)]
        lines += ["", *table(columns, reasons)]
    return "\n".join(lines) + "\n"


def _cells(count: FeedbackCount) -> tuple[str, ...]:
    numbers = (count.shown, count.accepted, count.overridden, count.unanswered)
    return (_in_words(count.situation), *map(str, numbers))


def _sum(counts: list[FeedbackCount]) -> tuple[str, ...]:
    names = ("shown", "accepted", "overridden", "unanswered")
    return (_TOTAL, *(str(sum(getattr(count, name) for count in counts)) for name in names))


def _reasons(counts: list[FeedbackCount]) -> list[tuple[str, str, str]]:
    """Each reason with how often it was given and about what, the most frequent first."""
    given: Counter[str] = Counter()
    about: dict[str, list[str]] = defaultdict(list)
    for count in counts:
        given += count.reasons
        for reason in count.reasons:
            about[reason].append(_in_words(count.situation))
    ordered = sorted(given.items(), key=lambda item: (-item[1], item[0]))
    return [(_in_words(reason), str(number), "; ".join(about[reason])) for reason, number in ordered]


def _in_words(code: str) -> str:
    return code.replace("-", " ")
