"""The days within which an event may happen, and the day on which it is meant to."""

from __future__ import annotations

from dataclasses import dataclass

from service.evidence.library import EvidenceRow


@dataclass(frozen=True)
class Window:
    """``earliest`` <= ``day`` <= ``latest``, as days from some start or from the as-of day."""

    earliest: int
    day: int
    latest: int

    def __post_init__(self) -> None:
        if not self.earliest <= self.day <= self.latest:
            raise ValueError("a window must hold its day")

    def after(self, start_day: int) -> Window:
        """The same window counted from another start."""
        return Window(self.earliest + start_day, self.day + start_day, self.latest + start_day)

    def until(self, last_day: int) -> Window:
        """The window without the days after ``last_day``, which must not lie before its day."""
        return Window(self.earliest, self.day, min(self.latest, last_day))


def read_window(row: EvidenceRow) -> Window:
    """Window of an evidence row in days; a fixed row gives a window of one day."""
    low = row.value if row.low is None else row.low
    high = row.value if row.high is None else row.high
    return Window(int(low), int(row.value), int(high))


def is_past(window: Window) -> bool:
    """Whether the whole window lies before the as-of day."""
    return window.latest < 0


def keep_from_today(window: Window) -> Window:
    """What of a window lies on or after the as-of day; an overdue one becomes today."""
    return Window(max(window.earliest, 0), max(window.day, 0), max(window.latest, 0))
