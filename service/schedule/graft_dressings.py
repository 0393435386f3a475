"""What happens to a graft after it has been placed: looks, changes, carriers, staples, the reading."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from service.domain.body_region import Region
from service.domain.case import GraftingCase
from service.domain.dressing import CareEvent, EventKind
from service.domain.graft import GraftKind
from service.domain.patient import AllergyAnswer
from service.domain.plan import SettledPlan
from service.evidence.library import Evidence
from service.schedule.grafts import Graft
from service.schedule.windows import Window, is_past, keep_from_today, read_window
from service.wording.methods import method_in_words
from service.wording.places import place_in_words

_ALLERGY_QUESTIONS = {
    AllergyAnswer.PRESENT: ("sulfonamide-allergy",),
    AllergyAnswer.NOT_RECORDED: ("allergy-not-recorded",),
    AllergyAnswer.ABSENT: (),
}


@dataclass(frozen=True)
class GraftCare:
    """The events of one graft, each on its own days after placement."""

    graft: Graft
    case: GraftingCase
    plan: SettledPlan
    evidence: Evidence

    def events(self) -> Iterator[CareEvent]:
        """All events from the as-of day on; what is overdue and not recorded is due today."""
        yield from self._changes()
        if self.graft.method.kind is GraftKind.ISLAND:
            yield from self._carrier()
        yield from self._staples()
        if not self.graft.is_read:
            yield from self._once(
                EventKind.INSPECT_GRAFT,
                self.read_window(),
                carries_over=True,
                values=(("contingent", self._contingent_words()),),
            )

    def read_window(self) -> Window:
        row = self.evidence.row("read-day", self.graft.method.kind)
        return read_window(row).after(self.graft.placed_day)

    def _carrier_window(self) -> Window:
        return read_window(self.evidence.row("carrier-days")).after(self.graft.placed_day)

    def _carrier_is_off(self) -> bool:
        return any(
            r.place == self.graft.wound.place and self.case.day_of(r.day) > self.graft.placed_day
            for r in self.case.record.carrier_removals
        )

    def _carrier(self) -> Iterator[CareEvent]:
        if self._carrier_is_off():
            return
        removal = self._carrier_window()
        lead = int(self.evidence.value("release-agent-lead-days"))
        yield from self._once(
            EventKind.APPLY_RELEASE_AGENT,
            removal.after(-lead),
            preconditions=_ALLERGY_QUESTIONS[self.case.record.patient.sulfonamide_allergy],
        )
        yield from self._once(EventKind.REMOVE_CARRIER, removal, carries_over=True)

    def _staples(self) -> Iterator[CareEvent]:
        window = self._staples_window()
        if self.graft.read_day is None or self.graft.read_day < window.day:
            yield from self._once(EventKind.REMOVE_STAPLES, window, carries_over=True)

    def _staples_window(self) -> Window:
        """With the carrier for islands; else from the first change to the latest safe day."""
        if self.graft.method.kind is GraftKind.ISLAND:
            return self._carrier_window()
        row = read_window(self.evidence.row("staple-removal-days", self.graft.method.kind))
        latest = int(self.evidence.value("staple-latest-days"))
        return Window(row.earliest, row.day, latest).after(self.graft.placed_day)

    def _changes(self) -> Iterator[CareEvent]:
        """First change and then one each interval, as long as the dressing of this kind is on."""
        first, interval, last_day = self._change_rule()
        start = self.graft.placed_day
        ordinal, offset = 1, 0
        while first.day + offset <= last_day:
            slack = (
                Window(first.earliest, first.day, first.latest)
                if ordinal == 1
                else Window(
                    first.day - interval.day + interval.earliest,
                    first.day,
                    first.day - interval.day + interval.latest,
                )
            )
            window = slack.after(offset).until(last_day).after(start)
            if not is_past(window):
                yield self._event(
                    EventKind.CHANGE_OUTER_DRESSING,
                    window,
                    ordinal=ordinal,
                    series=f"{self.graft.key}:outer-dressing",
                    values=(("day_after", str(window.day - start)), ("detail", self._face_words())),
                )
            ordinal, offset = ordinal + 1, offset + interval.day

    def _change_rule(self) -> tuple[Window, Window, int]:
        """First change, interval, and the last day after placement with an outer dressing."""
        kind = self.graft.method.kind
        interval = read_window(self.evidence.row("dressing-interval-days", kind))
        if kind is GraftKind.ISLAND:
            last_day = -1 if self._carrier_is_off() else read_window(self.evidence.row("carrier-days")).day - 1
            return read_window(self.evidence.row("outer-dressing-first-change-days")), interval, last_day
        first = read_window(self.evidence.row("first-look-days", kind))
        if kind is GraftKind.SHEET:
            return first, interval, int(self.evidence.value("dressing-until-days", kind))
        return first, interval, int(self.evidence.value("closure-days", self.graft.method.value)) - 1

    def _face_words(self) -> str:
        on_face = self.graft.wound.place.region is Region.FACE
        return " On the face a graft may be left open with ointment: then only look at it." if on_face else ""

    def _contingent_words(self) -> str:
        region = self.graft.wound.place.region_key
        wounds = {w.wound_id for w in self.case.wounds if w.place.region_key == region}
        waits = any(p.is_regraft and p.wound_id in wounds for p in self.plan.placements)
        return " If it failed, the possible further session is needed." if waits else ""

    def _once(
        self,
        kind: EventKind,
        window: Window,
        *,
        carries_over: bool = False,
        values: tuple = (),
        preconditions: tuple[str, ...] = (),
    ) -> Iterator[CareEvent]:
        if carries_over or not is_past(window):
            yield self._event(kind, window, values=values, preconditions=preconditions)

    def _event(
        self,
        kind: EventKind,
        window: Window,
        *,
        ordinal: int = 1,
        series: str = "",
        values: tuple = (),
        preconditions: tuple[str, ...] = (),
    ) -> CareEvent:
        kept = keep_from_today(window)
        return CareEvent(
            kind,
            self.graft.key,
            ordinal,
            kept.day,
            kept.earliest,
            kept.latest,
            None,
            place_in_words(self.graft.wound.place.key),
            priority="urgent" if is_past(window) else "routine",
            preconditions=preconditions,
            values=(("graft", method_in_words(self.graft.method)), *values),
            series=series or f"{self.graft.key}:{kind}",
        )
