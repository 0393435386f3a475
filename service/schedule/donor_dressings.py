"""What happens to a donor site after the harvest: the first change, and the check that it has healed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from service.domain.dressing import CareEvent, EventKind
from service.domain.plan import SettledPlan
from service.evidence.library import Evidence
from service.schedule.donor_parcels import HarvestedParcel
from service.schedule.merging import Movable
from service.schedule.theatre_days import theatre_days_of
from service.schedule.windows import Window, is_past, keep_from_today, read_window
from service.wording.places import place_in_words

_BEFORE_HARVEST = " The plan takes skin here again: it is harvested only when the record says it has healed."


@dataclass(frozen=True)
class DonorCare:
    """Dressing change and healing check of one parcel."""

    parcel: HarvestedParcel
    plan: SettledPlan
    evidence: Evidence

    @property
    def change_key(self) -> str:
        return f"{self.parcel.key}:change"

    @property
    def check_key(self) -> str:
        return f"{self.parcel.key}:check"

    @property
    def change_window(self) -> Window:
        return read_window(self.evidence.row("donor-dressing-first-change-days")).after(self.parcel.harvested_day)

    @property
    def check_window(self) -> Window:
        """When healing is expected; at the latest on the day before the skin is taken again."""
        if self.parcel.next_harvest_day is None:
            return self.parcel.healed
        last_day = self.parcel.next_harvest_day - 1
        day = min(self.parcel.healed.day, last_day)
        return Window(min(self.parcel.healed.earliest, day), day, last_day, self.parcel.healed.sources)

    def movables(self) -> Iterator[Movable]:
        """Both move into theatre; on the ward the check waits for its day: earlier it would find little."""
        theatre = theatre_days_of(self.parcel.site.place, self.plan, self.parcel.harvested_day)
        change, check = self.change_window, self.check_window
        if not is_past(change):
            yield Movable(self.change_key, keep_from_today(change), keep_from_today(change), theatre)
        ward = keep_from_today(check.from_day())
        yield Movable(self.check_key, keep_from_today(check), ward, theatre)

    def usual_days(self) -> dict[str, int]:
        return {self.change_key: self.change_window.day, self.check_key: self.check_window.day}

    def events(self, days: Mapping[str, int]) -> Iterator[CareEvent]:
        """Both events from the as-of day on, on the chosen days."""
        chosen = self.usual_days() | {key: days[key] for key in self.usual_days() if key in days}
        if not is_past(self.change_window):
            wound_day = self.evidence.row("donor-treated-as-wound-days")
            change = self.change_window.citing(wound_day.row_id)
            yield self._event(EventKind.CHANGE_DONOR_DRESSING, change, chosen[self.change_key],
                              (("treated_as_wound", str(int(wound_day.value))),))
        detail = "" if self.parcel.next_harvest_day is None else _BEFORE_HARVEST
        yield self._event(EventKind.CHECK_DONOR_HEALING, self.check_window, chosen[self.check_key],
                          (("detail", detail),))

    def _event(self, kind: EventKind, window: Window, day: int, values: tuple) -> CareEvent:
        kept = keep_from_today(window)
        return CareEvent(
            kind,
            self.parcel.key,
            1,
            min(max(day, kept.earliest), kept.latest),
            kept.earliest,
            kept.latest,
            None,
            place_in_words(self.parcel.site.site_id),
            priority="urgent" if is_past(window) else "routine",
            values=values,
            series=f"{self.parcel.key}:{kind}",
            sources=window.sources,
        )
