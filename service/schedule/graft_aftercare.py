"""What follows a graft beside its dressings: splint, walking, compression, moisturiser, garment."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from service.domain.body_region import Region
from service.domain.case import GraftingCase, SkinLimitAge
from service.domain.dressing import CareEvent, EventKind
from service.domain.plan import SettledPlan
from service.evidence.library import Evidence, EvidenceRow
from service.schedule.grafts import Graft
from service.schedule.merging import Movable
from service.schedule.theatre_days import theatre_days_of
from service.schedule.windows import Window, is_past, keep_from_today
from service.wording.places import place_in_words
from service.wording.rounding import round_need_up
from service.wording.spreads import spread_in_words

_LEGS = frozenset({Region.THIGH, Region.LOWER_LEG, Region.FOOT})
_NO_GARMENT = frozenset({Region.SCALP})


@dataclass(frozen=True)
class Aftercare:
    """The starts and ends that belong to one graft, from the as-of day on."""

    graft: Graft
    case: GraftingCase
    plan: SettledPlan
    evidence: Evidence

    @property
    def splint_key(self) -> str:
        return f"{self.graft.key}:splint"

    @property
    def splint_window(self) -> Window:
        return self._window(self.evidence.row("splint-days"))

    @property
    def walk_key(self) -> str:
        return f"{self.graft.key}:walk"

    @property
    def compression_key(self) -> str:
        return f"{self.graft.key}:compression"

    @property
    def walk_window(self) -> Window:
        """From the usual day, and not before a splinted joint is free."""
        walk = self._window(self.evidence.row("walking-after-leg-graft-days"))
        if not self.graft.wound.over_joint:
            return walk.from_day()
        free_day = min(max(self.splint_window.latest, walk.day), walk.latest)
        return Window(free_day, free_day, walk.latest, walk.sources).citing(*self.splint_window.sources)

    @property
    def compression_window(self) -> Window:
        """From its day to the closure of the graft."""
        start = self._window(self.evidence.row("compression-after-leg-graft-days"))
        closed = self.closed_window
        return Window(start.day, start.day, max(start.day, closed.day), start.sources).citing(*closed.sources)

    @property
    def closed_window(self) -> Window:
        return self._window(self.evidence.row("closure-days", self.graft.method.value))

    def starts(self) -> Iterator[Movable]:
        """What begins after grafts on the legs: once for several sessions close together."""
        if self.graft.wound.place.region not in _LEGS:
            return
        for key, window in ((self.walk_key, self.walk_window), (self.compression_key, self.compression_window)):
            if not is_past(window):
                yield Movable(key, keep_from_today(window), keep_from_today(window))

    def movables(self) -> Iterator[Movable]:
        """The end of the splint, which goes with a dressing."""
        if self.graft.wound.over_joint and not is_past(self.splint_window):
            kept = keep_from_today(self.splint_window)
            yield Movable(self.splint_key, kept, kept,
                          theatre_days_of(self.graft.wound.place, self.plan, self.graft.placed_day))

    def events(self, days: Mapping[str, int]) -> Iterator[CareEvent]:
        """All of them, on the chosen days; what lies in the past is over."""
        if self.graft.wound.over_joint:
            yield from self._splint(days.get(self.splint_key, self.splint_window.day))
        if self.graft.wound.place.region in _LEGS:
            yield from self._legs(days)
        closed = self.closed_window
        yield from self._event(EventKind.START_MOISTURISER, closed, closed.day)
        if self.graft.wound.place.region not in _NO_GARMENT:
            hours, months = map(self.evidence.row, ("pressure-garment-hours-per-day", "pressure-garment-months"))
            values = (("hours", spread_in_words(hours)), ("months", spread_in_words(months)))
            healed = closed.from_day().citing(hours.row_id, months.row_id)
            yield from self._event(EventKind.START_PRESSURE_GARMENT, healed, healed.day, values)

    def _splint(self, off_day: int) -> Iterator[CareEvent]:
        """On in theatre, off at a dressing."""
        placed = self.graft.placed_day
        if self.graft.session is not None:
            yield CareEvent(
                EventKind.APPLY_SPLINT, self.graft.key, 1, placed, placed, placed, self.graft.session,
                place_in_words(self.graft.wound.place.key),
                values=(("until_day", spread_in_words(self.evidence.row("splint-days"))),),
                sources=self.splint_window.sources,
            )
        yield from self._event(EventKind.REMOVE_SPLINT, self.splint_window, off_day)

    def _legs(self, days: Mapping[str, int]) -> Iterator[CareEvent]:
        """Walking, but not for infants; then compression."""
        walk, compression = self.walk_window, self.compression_window
        if self.case.age_band is not SkinLimitAge.INFANT:
            yield from self._event(EventKind.MOBILISE_PATIENT, walk, days.get(self.walk_key, walk.day))
        day = days.get(self.compression_key, compression.day)
        yield from self._event(EventKind.START_COMPRESSION, compression, day)

    def _window(self, row: EvidenceRow) -> Window:
        """Whole days after placement; part of a day counts as a day."""
        ends = (row.value if end is None else end for end in (row.low, row.value, row.high))
        days = Window(*(int(round_need_up(end)) for end in ends), (row.row_id,))
        return days.after(self.graft.placed_day)

    def _event(self, kind: EventKind, window: Window, day: int, values: tuple = ()) -> Iterator[CareEvent]:
        if is_past(window):
            return
        kept = keep_from_today(window)
        yield CareEvent(
            kind, self.graft.key, 1, min(max(day, kept.earliest), kept.latest), kept.earliest, kept.latest, None,
            place_in_words(self.graft.wound.place.key), values=values, series=f"{self.graft.key}:{kind}",
            sources=window.sources,
        )
