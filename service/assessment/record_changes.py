"""What was recorded since the plan before, each with the record as it was or was expected to be.

Statements of the day of that plan are among them, though nobody knows which came first: they may
explain a difference. Whoever lists what is new leaves them out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import fields, replace
from decimal import Decimal
from typing import Any

from service.assessment.done_sessions import HeldSession
from service.domain.case import Act, BurnRecord
from service.domain.donor_site import DonorState
from service.domain.patient import Measured
from service.domain.plan_difference import EarlierCourse, RecordChange, RecordChangeKind, SessionOutline

#: Where the record holds each act.
_DEEDS = {Act.EXCISE: "excisions", Act.HARVEST: "harvests", Act.PLACE: "placements"}


def find_record_changes(
    earlier: EarlierCourse, record: BurnRecord, held: tuple[HeldSession, ...], pending: tuple[SessionOutline, ...],
    tolerance_cm2: Decimal,
) -> tuple[RecordChange, ...]:
    """Everything new, what may have moved the plan most directly first.

    Parameters
    ----------
    earlier : the plan before
    record : what is recorded now
    held, pending : its sessions, held and still to come
    tolerance_cm2 : areas that differ by less count as done as planned [cm²]
    """
    awaited = {place for session in pending for place in session.by_place(Act.HARVEST)}
    return (
        *_donor_states(earlier, record, awaited),
        *(change for one in held for change in _of_held(record, one, tolerance_cm2)),
        *_takes(earlier, record),
        *_beds(earlier, record),
        *_extents(earlier, record),
        *_measured(earlier, record),
    )


def _by_source(records: Iterable[Any]) -> Iterator[tuple[Any, ...]]:
    """Entries of one statement together: it may speak of both surfaces of a region."""
    grouped: dict[str, list[Any]] = {}
    for one in records:
        grouped.setdefault(one.source, []).append(one)
    yield from map(tuple, grouped.values())


def _place_key(records: tuple[Any, ...]) -> str:
    place = records[0].place
    return place.key if len(records) == 1 else place.region_key


def _donor_states(earlier: EarlierCourse, record: BurnRecord, awaited: set[str]) -> Iterator[RecordChange]:
    """As before the statement; and healed, where the plan before counted on a site that is late."""
    for new in _by_source(s for s in record.donor_states if s.observed >= earlier.made_on):
        is_late = new[0].state is DonorState.HEALING and any(s.place.key in awaited for s in new)
        others = tuple(s for s in record.donor_states if s not in new)
        expected = [(*others, *(replace(s, state=DonorState.HEALED) for s in new))] if is_late else []
        yield RecordChange(
            RecordChangeKind.DONOR_STATE, new[0].observed, _place_key(new), (("state", new[0].state.value),),
            tuple(replace(record, donor_states=states) for states in (others, *expected)))


def _takes(earlier: EarlierCourse, record: BurnRecord) -> Iterator[RecordChange]:
    for graft in record.placements:
        if graft.take_day is not None and graft.take_day >= earlier.made_on:
            unread = replace(graft, take_fraction=None, take_day=None)
            placements = tuple(unread if p is graft else p for p in record.placements)
            yield RecordChange(
                RecordChangeKind.TAKE, graft.take_day, graft.place.key,
                (("percent", f"{(graft.take_fraction * 100).normalize():f}"), ("placed", graft.day.isoformat())),
                (replace(record, placements=placements),))


def _beds(earlier: EarlierCourse, record: BurnRecord) -> Iterator[RecordChange]:
    for new in _by_source(b for b in record.beds if b.observed >= earlier.made_on):
        yield RecordChange(
            RecordChangeKind.BED, new[0].observed, _place_key(new), (("state", new[0].state.value),),
            (replace(record, beds=tuple(b for b in record.beds if b not in new)),))


def _extents(earlier: EarlierCourse, record: BurnRecord) -> Iterator[RecordChange]:
    """The extent before is no longer in the record, so there is no record without the new one."""
    kinds = ((RecordChangeKind.EXTENT, record.extents), (RecordChangeKind.OPEN_WOUND, record.open_wounds))
    for kind, records in kinds:
        for new in _by_source(x for x in records if x.observed > earlier.made_on):
            yield RecordChange(kind, new[0].observed, _place_key(new))


def _measured(earlier: EarlierCourse, record: BurnRecord) -> Iterator[RecordChange]:
    """The measurement before is no longer in the record either."""
    for name in (f.name for f in fields(record.patient)):
        value = getattr(record.patient, name)
        if isinstance(value, Measured) and value.observed > earlier.made_on:
            yield RecordChange(
                RecordChangeKind.MEASURED, value.observed, values=(("name", name), ("value", f"{value.value:f}")))


def _of_held(record: BurnRecord, held: HeldSession, tolerance_cm2: Decimal) -> Iterator[RecordChange]:
    """A session on another day than planned, and each place where more or less was done."""
    if held.day != held.planned.day:
        values = (("planned", held.planned.day.isoformat()),)
        without = _with_deeds(
            record, lambda deed: replace(deed, day=held.planned.day) if deed.day == held.day else deed)
        yield RecordChange(RecordChangeKind.HELD_ON_OTHER_DAY, held.day, values=values, records_without=(without,))
    if held.planned.areas_cm2:
        for act in _DEEDS:
            yield from _done_otherwise(record, held, act, tolerance_cm2)


def _done_otherwise(
    record: BurnRecord, held: HeldSession, act: Act, tolerance_cm2: Decimal,
) -> Iterator[RecordChange]:
    planned = held.planned.by_place(act)
    deeds = [deed for deed in getattr(record, _DEEDS[act]) if deed.day == held.day]
    for place in sorted({*planned, *(deed.place.key for deed in deeds)}):
        here = [deed for deed in deeds if deed.place.key == place]
        meant, done = planned.get(place, Decimal(0)), sum((deed.area_cm2 for deed in here), Decimal(0))
        if abs(meant - done) >= tolerance_cm2:
            values = (("act", act.value), ("planned_cm2", f"{meant:f}"), ("done_cm2", f"{done:f}"))
            yield RecordChange(
                RecordChangeKind.DONE_OTHERWISE, held.day, place, values, _as_meant(record, here, meant))


def _as_meant(record: BurnRecord, deeds: list, meant_cm2: Decimal) -> tuple[BurnRecord, ...]:
    """The record with what was planned at a place; none where nothing or more than one thing was recorded."""
    if len(deeds) != 1:
        return ()
    meant = replace(deeds[0], area_cm2=meant_cm2) if meant_cm2 else None
    return (_with_deeds(record, lambda deed: meant if deed is deeds[0] else deed),)


def _with_deeds(record: BurnRecord, change: Callable[[Any], Any]) -> BurnRecord:
    """The record with each deed changed; one changed to ``None`` is left out."""
    names = (*_DEEDS.values(), "covers")
    changed = {name: (change(deed) for deed in getattr(record, name)) for name in names}
    return replace(record, **{name: tuple(d for d in deeds if d is not None) for name, deeds in changed.items()})
