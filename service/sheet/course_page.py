"""What the page of the whole course shows: maps, timeline, donor reserve, closure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from decimal import Decimal

from service.domain.answer import PlanAnswer
from service.domain.body_region import Place
from service.domain.dressing import EventKind
from service.domain.graft import GraftMethod
from service.domain.plan import LedgerEntry
from service.domain.session import CoverKind
from service.sheet.body_map import Fill, Mark
from service.sheet.charts import Chart, DayAxis, Dot, ReserveRow, TimelineRow, draw_reserve, draw_timeline
from service.sheet.numbering import donor_places, wound_places
from service.sheet.session_page import FILL_OF, draw_map, main_method
from service.wording.languages import Words
from service.wording.methods import method_in_words
from service.wording.places import surface_in_words
from service.wording.rounding import number_in_words, round_need_up

_MOST_TICKS = 14
_READ = frozenset({EventKind.INSPECT_GRAFT})
_OFF = frozenset({EventKind.REMOVE_CARRIER, EventKind.REMOVE_STAPLES})
_DONOR_CHECK = frozenset({EventKind.CHECK_DONOR_HEALING})


def draw_wound_course(answer: PlanAnswer, key: str, _: Words) -> str:
    """The map of the wounds over the whole course; ``key`` keeps its ids apart from other maps of the page."""
    title = _("Wounds and the sessions that graft them")
    return draw_map(answer, wound_course_marks(answer, _), f"{key}-wounds", title, _)


def draw_donor_course(answer: PlanAnswer, key: str, _: Words) -> str:
    """The map of the donor sites over the whole course."""
    title = _("Donor sites and the sessions that use them")
    return draw_map(answer, donor_course_marks(answer, _), f"{key}-donors", title, _)


def wound_course_marks(answer: PlanAnswer, _: Words) -> Iterator[Mark]:
    """Each wound by its main method, labelled with the sessions that graft it; ``–`` where none does."""
    wounds, ordinals = wound_places(answer), _ordinals(answer)
    grafts: dict[Place, list[tuple[Decimal, GraftMethod]]] = defaultdict(list)
    held: dict[Place, set[int]] = defaultdict(set)
    for graft in answer.plan.settled.placements:
        if not graft.is_regraft:
            grafts[wounds[graft.wound_id]].append((graft.area_cm2, graft.method))
            held[wounds[graft.wound_id]].add(ordinals[graft.day])
    for place in dict.fromkeys(wounds.values()):
        where = _(surface_in_words(place))
        if place not in grafts:
            yield Mark(place, Fill.WAITING, "–", ": ".join((where, _("not grafted by this plan"))))
            continue
        method = main_method(grafts[place])
        sessions = _join(held[place])
        yield Mark(place, FILL_OF[method.kind], sessions,
                   f"{where}: {_(method_in_words(method))}, " + " ".join((_("session"), sessions)))


def donor_course_marks(answer: PlanAnswer, _: Words) -> Iterator[Mark]:
    """Each donor site, labelled with the sessions that take skin from it; ``–`` for what stays in reserve."""
    ordinals = _ordinals(answer)
    held: dict[str, set[int]] = defaultdict(set)
    for harvest in answer.plan.settled.harvests:
        held[harvest.site_id].add(ordinals[harvest.day])
    for site_id, place in donor_places(answer).items():
        where = _(surface_in_words(place))
        if held[site_id]:
            sessions = _join(held[site_id])
            words = " ".join((_("skin is taken in session"), sessions))
            yield Mark(place, Fill.HARVESTED, sessions, f"{where}: {words}")
        else:
            yield Mark(place, Fill.RESERVE, "–", ": ".join((where, _("in reserve"))))


def _join(ordinals: Iterable[int]) -> str:
    return "+".join(map(str, sorted(ordinals)))


def _ordinals(answer: PlanAnswer) -> dict[int, int]:
    return {session.day: session.ordinal for session in answer.plan.settled.sessions}


def draw_course(answer: PlanAnswer, _: Words) -> Chart:
    """The course timeline as SVG."""
    plan = answer.plan
    sessions = plan.settled.sessions
    covers = [c for c in plan.settled.covers if c.kind is CoverKind.TEMPORARY]
    firm = tuple(Dot(s.day, str(s.ordinal)) for s in sessions if not s.is_contingent)
    possible = tuple(Dot(s.day, str(s.ordinal)) for s in sessions if s.is_contingent)
    closures = _closures(answer)
    last_closed = _("Last grafted wound closed") if plan.closure_day is None else _("Last wound closed")
    rows = (
        TimelineRow(_("Sessions"), firm),
        TimelineRow(_("Possible sessions"), possible),
        TimelineRow(_("Temporary cover"), stretches=tuple((c.day, c.until_day) for c in covers)),
        TimelineRow(_("Read grafts"), _dots(answer, _READ)),
        TimelineRow(_("Carriers, staples off"), _dots(answer, _OFF)),
        TimelineRow(_("Donor sites healing"), stretches=tuple(_healing(plan.ledger)), is_donor=True),
        TimelineRow(_("Check donor healing"), _dots(answer, _DONOR_CHECK), is_donor=True),
        TimelineRow(_("First wound closed"), closures[:-1]),
        TimelineRow(last_closed, closures[-1:]),
    )
    shown = [row for row in rows if row.dots or row.stretches]
    last = max((d.high_day or d.day for row in shown for d in row.dots), default=0)
    return draw_timeline(_axis(answer, last, _), shown, title=_("Course: what happens on which day"))


def _dots(answer: PlanAnswer, kinds: frozenset[EventKind]) -> tuple[Dot, ...]:
    return tuple(Dot(day) for day in sorted({e.day for e in answer.events if e.kind in kinds}))


def _healing(ledger: Iterable[LedgerEntry]) -> Iterator[tuple[int, int]]:
    """Stretches of days in which some donor skin heals."""
    by_day: dict[int, Decimal] = defaultdict(Decimal)
    for entry in ledger:
        by_day[entry.day] += entry.healing_cm2
    start = None
    for day, healing in sorted(by_day.items()):
        if healing > 0 and start is None:
            start = day
        elif healing == 0 and start is not None:
            yield start, day
            start = None


def _closures(answer: PlanAnswer) -> tuple[Dot, ...]:
    """First and last wound that is still to close, each with its interval."""
    reached = sorted((c for c in answer.plan.closures if c.day is not None and c.day >= 0), key=lambda c: c.day)
    return tuple(Dot(c.day, "", c.low_day, c.high_day) for c in dict.fromkeys((*reached[:1], *reached[-1:])))


def draw_donor_reserve(answer: PlanAnswer, _: Words) -> Chart:
    """Usable and healing skin by donor site over time, and what each session takes, as SVG."""
    entries: dict[str, list[LedgerEntry]] = defaultdict(list)
    for entry in answer.plan.ledger:
        entries[entry.site_id].append(entry)
    places = donor_places(answer)
    rows = [_reserve_row(answer, site_id, places[site_id], held, _) for site_id, held in entries.items()]
    last = max((day for row in rows for day in row.days), default=0)
    return draw_reserve(_axis(answer, last, _), rows, title=_("Donor skin by site: usable and healing, taken in cm²"))


def _reserve_row(
    answer: PlanAnswer, site_id: str, place: Place, held: list[LedgerEntry], _: Words
) -> ReserveRow:
    taken: dict[int, Decimal] = defaultdict(Decimal)
    for harvest in answer.plan.settled.harvests:
        if harvest.site_id == site_id:
            taken[harvest.day] += harvest.area_cm2
    return ReserveRow(
        title=_(surface_in_words(place)),
        days=tuple(e.day for e in held),
        usable_cm2=tuple(float(e.usable_cm2) for e in held),
        healing_cm2=tuple(float(e.healing_cm2) for e in held),
        taken=tuple((day, number_in_words(round_need_up(area))) for day, area in sorted(taken.items())),
    )


def _axis(answer: PlanAnswer, last: int, _: Words) -> DayAxis:
    """Whole days from day 0, with at most so many dates that they stay legible."""
    step = max(1, -(-last // _MOST_TICKS))
    ticks = tuple((day, _.day_month(answer.case.date_of(day))) for day in range(0, last + 1, step))
    return DayAxis(0, last, ticks, tuple(s.day for s in answer.plan.settled.sessions))
