"""What happens to a graft after it has been placed: looks, changes, carriers, staples, the reading."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from service.domain.body_region import Region
from service.domain.case import GraftingCase
from service.domain.dressing import CareEvent, EventKind
from service.domain.graft import GraftKind
from service.domain.plan import SettledPlan
from service.evidence.library import Evidence
from service.preferences.library import Preferences
from service.schedule.grafts import Graft
from service.schedule.infected_beds import INFECTED
from service.schedule.merging import Movable
from service.schedule.release_agent import release_agent_questions
from service.schedule.theatre_days import theatre_days_of
from service.schedule.windows import Window, is_past, keep_from_today, read_window
from service.wording.methods import method_in_words
from service.wording.places import place_in_words


@dataclass(frozen=True)
class GraftCare:
    """The events of one graft, each on its own days after placement.

    Two of them carry the others: the first look or change, and the reading, with which
    carriers, staples and splint go. On meshed grafts the two are one.
    """

    graft: Graft
    case: GraftingCase
    plan: SettledPlan
    evidence: Evidence
    preferences: Preferences

    @property
    def first_key(self) -> str:
        return f"{self.graft.key}:first"

    @property
    def reading_key(self) -> str:
        return self.first_key if self._kind is GraftKind.MESHED else f"{self.graft.key}:reading"

    def movables(self) -> Iterator[Movable]:
        """What may move: the first look or change, and the reading."""
        if not (self._kind is GraftKind.ISLAND and self._carrier_is_off):
            yield from self._movable(self.first_key, self.first_window, self._first_on_ward())
        if self.reading_key != self.first_key and not self.graft.is_read:
            yield from self._movable(self.reading_key, self.reading_window, self._reading_on_ward())

    def _movable(self, key: str, window: Window, ward: Window) -> Iterator[Movable]:
        if not is_past(window):
            theatre = theatre_days_of(self.graft.wound.place, self.plan, self._placed_day)
            yield Movable(key, keep_from_today(window), keep_from_today(ward), theatre)

    def usual_days(self) -> dict[str, int]:
        """The days of both when nothing is moved."""
        return {
            self.first_key: self.first_window.day,
            self.reading_key: max(self.reading_window.day, 0) if not self.graft.is_read else self.reading_window.day,
        }

    def events(self, days: Mapping[str, int], busy_days: frozenset[int]) -> Iterator[CareEvent]:
        """All events from the as-of day on; what is overdue and not recorded is due today.

        Parameters
        ----------
        days : mapping
            The chosen days by key; what has no entry stays on its usual day.
        busy_days : frozenset of int
            Days on which dressings are opened or the patient is in theatre: a later change of a
            meshed graft falls on one of them if its interval allows.
        """
        chosen = self.usual_days() | {key: days[key] for key in (self.first_key, self.reading_key) if key in days}
        first_day, reading_day = chosen[self.first_key], chosen[self.reading_key]
        yield from self._changes(first_day, reading_day, busy_days)
        if self._kind is GraftKind.ISLAND and not self._carrier_is_off:
            yield from self._carrier(reading_day)
        yield from self._staples(reading_day)
        if not self.graft.is_read:
            yield self._event(EventKind.INSPECT_GRAFT, self.reading_window, reading_day,
                              values=(("contingent", self._contingent_words()),))

    @property
    def _kind(self) -> GraftKind:
        return self.graft.method.kind

    @property
    def _placed_day(self) -> int:
        return self.graft.placed_day

    @cached_property
    def is_under_pressure(self) -> bool:
        """Negative pressure, if the team uses it; never on sheets, whose collections must be seen early."""
        return self._kind is not GraftKind.SHEET and self.preferences.value("negative-pressure-over-grafts") > 0

    @cached_property
    def first_window(self) -> Window:
        if self.is_under_pressure:
            return self._window("negative-pressure-removal-days")
        if self._kind is GraftKind.ISLAND:
            return self._window("outer-dressing-first-change-days")
        return self._window("first-look-days", self._kind)

    @cached_property
    def reading_window(self) -> Window:
        if self.reading_key == self.first_key:
            return self.first_window
        window = self._window("read-day", self._kind)
        last_day = max(self._last_day_before_regraft(), window.day)
        return window.until(last_day)

    def _first_on_ward(self) -> Window:
        """On the ward islands are not looked at early: it would only add a change."""
        window = self.first_window
        return window.from_day() if self._kind is GraftKind.ISLAND else window

    def _reading_on_ward(self) -> Window:
        """Carriers do not wait on the ward: each further day would need a change of the outer dressing.

        Nor do they come off before the release agent has had its time.
        """
        window = self.reading_window
        if self._kind is not GraftKind.ISLAND:
            return window
        window = window.until(window.day)
        return Window(min(max(window.earliest, self._release_lead_days), window.day), window.day, window.latest)

    def _window(self, parameter: str, applies_to: str = "any") -> Window:
        """Window of a row after placement; what is infected never waits beyond its day."""
        window = read_window(self.evidence.row(parameter, applies_to)).after(self._placed_day)
        return window.until(window.day) if self.graft.wound.bed_state in INFECTED else window

    def _last_day_before_regraft(self) -> int:
        region = self.graft.wound.place.region_key
        wounds = {w.wound_id for w in self.case.wounds if w.place.region_key == region}
        days = [p.day for p in self.plan.placements if p.is_regraft and p.wound_id in wounds]
        return min(days, default=self.case.horizon_day) - 1

    @cached_property
    def _carrier_is_off(self) -> bool:
        return any(
            r.place == self.graft.wound.place and self.case.day_of(r.day) > self._placed_day
            for r in self.case.record.carrier_removals
        )

    @property
    def _release_lead_days(self) -> int:
        return int(self.evidence.value("release-agent-lead-days"))

    def _carrier(self, removal_day: int) -> Iterator[CareEvent]:
        lead = self.evidence.row("release-agent-lead-days")
        release = self.reading_window.after(-self._release_lead_days).citing(lead.row_id)
        release_day = removal_day - self._release_lead_days
        if release_day >= 0:
            yield self._event(EventKind.APPLY_RELEASE_AGENT, release, release_day,
                              preconditions=release_agent_questions(self.case, release_day, self.evidence))
        yield self._event(EventKind.REMOVE_CARRIER, self.reading_window, removal_day)

    def _staples(self, reading_day: int) -> Iterator[CareEvent]:
        window = self._staples_window()
        if self.graft.read_day is None or self.graft.read_day < window.day:
            day = window.day if self.graft.is_read else min(max(reading_day, window.earliest), window.latest)
            yield self._event(EventKind.REMOVE_STAPLES, window, day)

    def _staples_window(self) -> Window:
        """With the carrier for islands; else from the first change to the latest safe day."""
        if self._kind is GraftKind.ISLAND:
            return self.reading_window
        usual = read_window(self.evidence.row("staple-removal-days", self._kind))
        last = self.evidence.row("staple-latest-days")
        return replace(usual, latest=int(last.value)).citing(last.row_id).after(self._placed_day)

    def _changes(self, first_day: int, reading_day: int, busy_days: frozenset[int]) -> Iterator[CareEvent]:
        """First change and then one each interval, as long as the dressing of this kind is on."""
        if self._kind is GraftKind.ISLAND and self._carrier_is_off:
            return
        kind = EventKind.REMOVE_NEGATIVE_PRESSURE if self.is_under_pressure else EventKind.CHANGE_OUTER_DRESSING
        if not is_past(self.first_window):
            yield self._change(kind, keep_from_today(self.first_window), max(first_day, 0))
        interval = read_window(self.evidence.row("dressing-interval-days", self._kind))
        last_day, day = self._last_change_day(reading_day), first_day
        while day + interval.day <= last_day:
            window = interval.after(day).until(last_day)
            day = _join_busy(window, busy_days)
            if day >= 0:
                yield self._change(EventKind.CHANGE_OUTER_DRESSING, window, day)

    def _change(self, kind: EventKind, window: Window, day: int) -> CareEvent:
        after = f"day {day - self._placed_day} after placement"
        return self._event(kind, window, day, group=f"{method_in_words(self.graft.method)}, {after}",
                           values=(("detail", self._face_words()),))

    def _last_change_day(self, reading_day: int) -> int:
        """Islands until the carrier comes off, sheets to their last daily look, mesh until it is closed."""
        if self._kind is GraftKind.ISLAND:
            return reading_day - 1
        if self._kind is GraftKind.SHEET:
            return self._placed_day + int(self.evidence.value("dressing-until-days", self._kind))
        return self._placed_day + int(self.evidence.value("closure-days", self.graft.method.value)) - 1

    def _face_words(self) -> str:
        on_face = self.graft.wound.place.region is Region.FACE
        return " On the face a graft may be left open with ointment: then only look at it." if on_face else ""

    def _contingent_words(self) -> str:
        region = self.graft.wound.place.region_key
        wounds = {w.wound_id for w in self.case.wounds if w.place.region_key == region}
        waits = any(p.is_regraft and p.wound_id in wounds for p in self.plan.placements)
        return " If it failed, the possible further session is needed." if waits else ""

    def _event(
        self,
        kind: EventKind,
        window: Window,
        day: int,
        *,
        group: str = "",
        values: tuple = (),
        preconditions: tuple[str, ...] = (),
    ) -> CareEvent:
        kept = keep_from_today(window)
        day = min(max(day, kept.earliest), kept.latest)
        return CareEvent(
            kind,
            self.graft.key,
            1,
            day,
            kept.earliest,
            kept.latest,
            None,
            place_in_words(self.graft.wound.place.key),
            priority="urgent" if is_past(window) else "routine",
            preconditions=preconditions,
            values=(("group", group or method_in_words(self.graft.method)), *values),
            series=f"{self.graft.key}:{kind}",
            sources=window.sources,
        )


def _join_busy(window: Window, busy_days: frozenset[int]) -> int:
    """The usual day, or an earlier one of the window on which dressings are opened anyway."""
    days = [d for d in range(window.latest, window.earliest - 1, -1) if d in busy_days]
    return days[0] if days else window.day
