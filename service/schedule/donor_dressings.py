"""What happens to a donor site after the harvest: the first change, and the check that it has healed."""

from __future__ import annotations

from collections.abc import Iterator

from service.domain.dressing import CareEvent, EventKind
from service.evidence.library import Evidence
from service.schedule.donor_parcels import HarvestedParcel
from service.schedule.windows import Window, is_past, keep_from_today, read_window
from service.wording.places import place_in_words

_BEFORE_HARVEST = " The plan takes skin here again: it is harvested only when the record says it has healed."


def donor_events(parcel: HarvestedParcel, evidence: Evidence) -> Iterator[CareEvent]:
    """Dressing change and healing check of one parcel, from the as-of day on."""
    change = read_window(evidence.row("donor-dressing-first-change-days")).after(parcel.harvested_day)
    if not is_past(change):
        wound_day = str(int(evidence.value("donor-treated-as-wound-days")))
        yield _event(parcel, EventKind.CHANGE_DONOR_DRESSING, change, (("treated_as_wound", wound_day),))
    detail = "" if parcel.next_harvest_day is None else _BEFORE_HARVEST
    yield _event(parcel, EventKind.CHECK_DONOR_HEALING, _check_window(parcel), (("detail", detail),))


def _check_window(parcel: HarvestedParcel) -> Window:
    """When healing is expected; at the latest on the day before the skin is taken again."""
    if parcel.next_harvest_day is None:
        return parcel.healed
    last_day = parcel.next_harvest_day - 1
    day = min(parcel.healed.day, last_day)
    return Window(min(parcel.healed.earliest, day), day, last_day)


def _event(parcel: HarvestedParcel, kind: EventKind, window: Window, values: tuple) -> CareEvent:
    kept = keep_from_today(window)
    return CareEvent(
        kind,
        parcel.key,
        1,
        kept.day,
        kept.earliest,
        kept.latest,
        None,
        place_in_words(parcel.site.site_id),
        priority="urgent" if is_past(window) else "routine",
        values=values,
        series=f"{parcel.key}:{kind}",
    )
