"""What the page of one session shows: its acts with their numbers, by place."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from service.domain.answer import PlanAnswer
from service.domain.dressing import ActPart, EventKind, Quantity, sum_quantities
from service.domain.graft import GraftKind, GraftMethod
from service.domain.session import CoverKind, Session
from service.domain.theatre_list import TheatreList
from service.sheet.body_map import Fill, Mark, draw_body_map
from service.sheet.numbering import donor_places, number_places, wound_places
from service.wording.findings import word_code
from service.wording.forecast_text import word_coverage, word_need
from service.wording.languages import Words
from service.wording.methods import method_in_words
from service.wording.places import surface_in_words
from service.wording.reasons import word_held_back, word_method_changes, word_skin_prices
from service.wording.rounding import TENTH, count_in_words, interval, need_cm2, number_in_words, round_need_up

_ACTS = (EventKind.EXCISE_WOUND, EventKind.HARVEST_SKIN, EventKind.PLACE_GRAFT)
FILL_OF = {GraftKind.SHEET: Fill.SHEET, GraftKind.MESHED: Fill.MESHED, GraftKind.ISLAND: Fill.ISLAND}


@dataclass(frozen=True)
class ActRow:
    """One act at one place: planned area in cm² and %TBSA, its range, skin and plates where they apply."""

    act: EventKind
    number: str
    place: str
    how: str
    area: str
    percent: str
    spread: str
    skin: str
    plates: str

_LINES_AT_USUAL_SIZE, _LETTERS_A_LINE = 30, 100


@dataclass(frozen=True)
class SessionPage:
    """Everything on the page of one session, in words."""

    ordinal: int
    day: int
    day_after_injury: int
    positions: tuple[str, ...]
    is_contingent: bool
    needs: tuple[tuple[str, str], ...]  # name and estimate
    confirm: tuple[str, ...]
    rows: tuple[ActRow, ...]
    totals: tuple[ActRow, ...]
    covers: tuple[tuple[str, str, str, int], ...]  # place, kind, area, last day
    carriers: str
    reasons: tuple[str, ...]
    choices: tuple[str, ...]  # they stand with the grounds, so that the page for theatre stays one
    wound_marks: tuple[Mark, ...]
    donor_marks: tuple[Mark, ...]

    @property
    def is_long(self) -> bool:
        """Whether the page would not hold on one sheet of paper at its usual size."""
        reasons = sum(1 + len(reason) // _LETTERS_A_LINE for reason in self.reasons)
        lines = len(self.rows) + len(self.totals) + len(self.confirm) + len(self.covers) + reasons
        return lines > _LINES_AT_USUAL_SIZE


def make_session_page(answer: PlanAnswer, session: Session, _: Words) -> SessionPage:
    """The page of a session of a verified plan, with words of the language of ``_``."""
    listed = next((t for t in answer.theatre_lists if t.session == session.ordinal), None)
    parts, numbers = _join_parts(_parts(answer, session)), number_places(answer)
    return SessionPage(
        ordinal=session.ordinal,
        day=session.day,
        day_after_injury=session.day - answer.case.injury_day,
        positions=tuple(session.positions),
        is_contingent=session.is_contingent,
        needs=tuple(_needs(session, listed, _)),
        confirm=_to_confirm(answer, session, _),
        rows=tuple(_act_row(answer, kind, part, numbers[part.place], _) for kind, part in parts),
        totals=tuple(_totals(answer, parts, _)),
        covers=tuple(_covers(answer, session, _)),
        carriers=_carriers(listed, _),
        reasons=(*word_held_back(session, _), *_word_certainty(answer, session, _)),
        choices=(*word_method_changes(answer.plan, session, _), *word_skin_prices(answer.plan, session, _)),
        wound_marks=tuple(_wound_marks(answer, session, _)),
        donor_marks=tuple(_donor_marks(answer, session, _)),
    )


def _parts(answer: PlanAnswer, session: Session) -> list[tuple[EventKind, ActPart]]:
    """Excisions, harvests and grafts as the Tasks have them; a possible session has areas only."""
    return [
        (event.kind, part)
        for kind in _ACTS
        for event in answer.events
        if event.session == session.ordinal and event.kind is kind
        for part in event.parts
    ] or list(_planned_parts(answer, session))


def _join_parts(parts: Iterable[tuple[EventKind, ActPart]]) -> list[tuple[EventKind, ActPart]]:
    """What is done the same way at one place, depths and joints together: a reader could not tell them apart.

    Their spreads are added, the cautious way.
    """
    grouped: dict[tuple, list[ActPart]] = {}
    for kind, part in parts:
        grouped.setdefault((kind, part.place, part.method, part.thickness, part.harvest_number), []).append(part)
    return [(kind, replace(same[0], quantities=_sum_by_name(same))) for (kind, *_), same in grouped.items()]


def _sum_by_name(parts: list[ActPart]) -> tuple[Quantity, ...]:
    by_name: dict[str, list[Quantity]] = {}
    for part in parts:
        for quantity in part.quantities:
            by_name.setdefault(quantity.name, []).append(quantity)
    return tuple(sum_quantities(name, same) for name, same in by_name.items())


def _act_row(answer: PlanAnswer, kind: EventKind, part: ActPart, number: int, _: Words) -> ActRow:
    area = part.quantities[0]
    skin, plates = _quantity(part, "skin-placed"), _quantity(part, "plates")
    spread = area if area.low is not None else skin
    return ActRow(
        act=kind,
        number=str(number),
        place=surface_in_words(part.place),
        how=_how(part, _),
        area=need_cm2(area.value),
        percent=_percent(answer, area.value),
        spread=interval(spread.low, spread.high) if spread else "",
        skin=need_cm2(skin.value) if skin else "",
        plates=f"{count_in_words(plates.value)} {interval(plates.low, plates.high)}".strip() if plates else "",
    )


def _percent(answer: PlanAnswer, area_cm2: Decimal) -> str:
    return number_in_words(round_need_up(answer.case.percent_tbsa(area_cm2), TENTH), TENTH)


def _totals(answer: PlanAnswer, parts: list[tuple[EventKind, ActPart]], _: Words) -> Iterator[ActRow]:
    """The whole of each kind of act that is done at several places; spreads are not added up."""
    for kind in _ACTS:
        of_kind = [part for one, part in parts if one is kind]
        if len(of_kind) < 2:
            continue
        area = sum(part.quantities[0].value for part in of_kind)
        skin = sum(q.value for part in of_kind if (q := _quantity(part, "skin-placed")))
        plates = sum(q.value for part in of_kind if (q := _quantity(part, "plates")))
        yield ActRow(
            kind, "", _("All"), "", need_cm2(area), _percent(answer, area), "", need_cm2(skin) if skin else "",
            number_in_words(plates) if plates else "")


def _quantity(part: ActPart, name: str) -> Quantity | None:
    return next((q for q in part.quantities if q.name == name), None)


def _how(part: ActPart, _: Words) -> str:
    if part.method is not None:
        return method_in_words(part.method, _)
    if part.thickness is not None:
        return _("{thickness}, no. {number}", thickness=_(str(part.thickness)), number=part.harvest_number)
    return ""


def _planned_parts(answer: PlanAnswer, session: Session) -> Iterator[tuple[EventKind, ActPart]]:
    """The acts of a session that has no Tasks yet, from the plan itself."""
    wounds, sites, plan = wound_places(answer), donor_places(answer), answer.plan.settled
    for harvest in plan.harvests:
        if harvest.day == session.day:
            area = Quantity("harvest-area", harvest.area_cm2, None, None, "cm2", ())
            yield EventKind.HARVEST_SKIN, ActPart(
                sites[harvest.site_id], (area,), None, harvest.thickness, harvest.harvest_number)
    for graft in plan.placements:
        if graft.day == session.day:
            area = Quantity("graft-area", graft.area_cm2, None, None, "cm2", ())
            skin = Quantity("skin-placed", graft.skin_cm2, None, None, "cm2", ())
            yield EventKind.PLACE_GRAFT, ActPart(wounds[graft.wound_id], (area, skin), graft.method)


def _needs(session: Session, listed: TheatreList | None, _: Words) -> Iterator[tuple[str, str]]:
    """Time, blood and units; all minutes are estimates."""
    found = {q.name: q for q in listed.quantities} if listed else {}
    surgery = _minutes(found.get("procedure-minutes"), session.procedure_minutes)
    yield _("Surgery, estimate"), surgery
    if "in-room-minutes" in found:
        yield _("In the room, estimate"), _minutes(found["in-room-minutes"], 0)
    loss = [f"{session.blood_loss_ml:,} mL"]
    if "blood-loss" in found:
        loss.append(" ".join((_("expected"), f"{found['blood-loss'].value:,.0f} mL")))
    yield _("Blood loss up to"), "; ".join(loss)
    yield _("Red-cell units to have ready"), str(session.units_to_have_ready)


def _minutes(quantity: Quantity | None, otherwise: int) -> str:
    if quantity is None:
        return f"{otherwise} min"
    return f"{number_in_words(round_need_up(quantity.value))} min {interval(quantity.low, quantity.high)}".strip()


def _to_confirm(answer: PlanAnswer, session: Session, _: Words) -> tuple[str, ...]:
    codes = (
        code
        for event in answer.events
        if event.kind is EventKind.CONFIRM_PRECONDITION and event.session == session.ordinal
        for code in event.preconditions
    )
    return tuple(word_code(code, _) for code in dict.fromkeys(codes))


def _covers(answer: PlanAnswer, session: Session, _: Words) -> Iterator[tuple[str, str, str, int]]:
    kinds = {CoverKind.TEMPORARY: _("temporary cover"), CoverKind.OVERLAY: _("overlay on the graft")}
    wounds = wound_places(answer)
    for cover in answer.plan.settled.covers:
        if cover.day == session.day:
            yield surface_in_words(wounds[cover.wound_id]), kinds[cover.kind], need_cm2(cover.area_cm2), cover.until_day


def _carriers(listed: TheatreList | None, _: Words) -> str:
    if listed is None or not listed.carriers:
        return ""
    counts = _.series(_("{count} at {ratio}", count=count, ratio=ratio) for ratio, count in listed.carriers)
    return _("{counts}, and {spare} spare", counts=counts, spare=listed.spare_carriers)


def _word_certainty(answer: PlanAnswer, session: Session, _: Words) -> Iterator[str]:
    """What the session needs over the simulated courses, and how often its harvest will do."""
    forecast = answer.plan.forecast
    if forecast is None:
        return
    found = forecast.of_session(session.ordinal)
    if found is not None and found.harvest_cm2:
        yield word_need(found, _)
        yield from word_coverage(found, forecast.wanted_fraction, _)


def _wound_marks(answer: PlanAnswer, session: Session, _: Words) -> Iterator[Mark]:
    """What is grafted today by its main method, and what waits for a later session."""
    numbers, wounds = number_places(answer), wound_places(answer)
    later, today = set(), {}
    for graft in answer.plan.settled.placements:
        if graft.is_regraft and not session.is_contingent:
            continue
        place = wounds[graft.wound_id]
        if graft.day == session.day:
            today.setdefault(place, []).append((graft.area_cm2, graft.method))
        elif graft.day > session.day:
            later.add(place)
    open_to_the_end = {wounds[still.wound_id] for still in answer.plan.settled.still_open}
    for place, number in numbers.items():
        where = _(surface_in_words(place))
        if place in today:
            method = main_method(today[place])
            words = f"{number} {where}: " + ", ".join((_("grafted in this session"), _(method_in_words(method))))
            yield Mark(place, FILL_OF[method.kind], str(number), words)
        elif place in later | open_to_the_end:
            yield Mark(place, Fill.WAITING, str(number), f"{number} {where}: " + _("waits"))


def main_method(parts: Iterable[tuple[Decimal, GraftMethod]]) -> GraftMethod:
    """The method of the largest area, the narrower one of two equal ones."""
    by_method: dict[GraftMethod, Decimal] = {}
    for area, method in parts:
        by_method[method] = by_method.get(method, Decimal(0)) + area
    order = list(GraftMethod)
    return max(by_method, key=lambda method: (by_method[method], -order.index(method)))


def _donor_marks(answer: PlanAnswer, session: Session, _: Words) -> Iterator[Mark]:
    """Where skin is taken today, where it heals, where it is in reserve after the session."""
    sites, numbers = donor_places(answer), number_places(answer)
    taken = {harvest.site_id for harvest in answer.plan.settled.harvests if harvest.day == session.day}
    held = {}
    for entry in answer.plan.ledger:
        if entry.day <= session.day:
            held[entry.site_id] = entry
    for site_id, place in sites.items():
        entry = held.get(site_id)
        if site_id in taken:
            fill, words = Fill.HARVESTED, _("skin is taken in this session")
        elif entry is not None and entry.healing_cm2 > 0:
            fill, words = Fill.HEALING, _("healing")
        elif entry is not None and entry.usable_cm2 > 0:
            fill, words = Fill.RESERVE, _("in reserve")
        else:
            continue
        yield Mark(place, fill, str(numbers[place]), f"{numbers[place]} {_(surface_in_words(place))}: {words}")


def draw_map(answer: PlanAnswer, marks: Iterable[Mark], key: str, title: str, _: Words) -> str:
    """A body map of this patient, with its words in the language of the page."""
    return draw_body_map(
        answer.case.age_years, list(marks), key=key, title=title, views=(_("front"), _("back")),
        sides=(_("right"), _("left")))
