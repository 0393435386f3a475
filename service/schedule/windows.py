"""The days within which an event may happen, and the day on which it is meant to."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from service.evidence.library import EvidenceRow


@dataclass(frozen=True)
class Window:
    """``earliest`` <= ``day`` <= ``latest``, as days from some start or from the as-of day.

    ``sources``: the evidence rows that it rests on.
    """

    earliest: int
    day: int
    latest: int
    sources: tuple[str, ...] = field(default=(), compare=False)

    def __post_init__(self) -> None:
        if not self.earliest <= self.day <= self.latest:
            raise ValueError("a window must hold its day")

    def after(self, start_day: int) -> Window:
        """The same window counted from another start."""
        return replace(
            self, earliest=self.earliest + start_day, day=self.day + start_day, latest=self.latest + start_day)

    def until(self, last_day: int) -> Window:
        """The window without the days after ``last_day``, which must not lie before its day."""
        return replace(self, latest=min(self.latest, last_day))

    def from_day(self) -> Window:
        """The window without the days before its day."""
        return replace(self, earliest=self.day)

    def citing(self, *row_ids: str) -> Window:
        """The same window resting on further evidence rows."""
        return replace(self, sources=tuple(dict.fromkeys((*self.sources, *row_ids))))


def read_window(row: EvidenceRow) -> Window:
    """Window of an evidence row in days; a fixed row gives a window of one day."""
    low = row.value if row.low is None else row.low
    high = row.value if row.high is None else row.high
    return Window(int(low), int(row.value), int(high), (row.row_id,))


def is_past(window: Window) -> bool:
    """Whether the whole window lies before the as-of day."""
    return window.latest < 0


def keep_from_today(window: Window) -> Window:
    """What of a window lies on or after the as-of day; an overdue one becomes today."""
    return replace(
        window, earliest=max(window.earliest, 0), day=max(window.day, 0), latest=max(window.latest, 0))
