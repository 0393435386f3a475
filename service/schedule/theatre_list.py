"""The theatre list of one session: what to have ready, in which order, for how long."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from itertools import groupby

from service.domain.case import GraftingCase
from service.domain.donor_site import Harvest
from service.domain.dressing import Quantity, sum_quantities
from service.domain.forecast import CourseForecast
from service.domain.graft import Thickness
from service.domain.plan import SettledPlan
from service.domain.session import Placement, Session
from service.domain.theatre_list import HarvestLine, TheatreList
from service.evidence.library import Evidence
from service.preferences.library import Preferences
from service.schedule.blood import expected_blood_loss
from service.schedule.carriers import carriers_by_ratio, find_short_carriers
from service.schedule.leftover_skin import leftover_skin, likely_surplus
from service.schedule.order_of_work import order_of_work
from service.schedule.quantities import (
    graft_forecast,
    harvest_quantity,
    in_whole_plates,
    plate_quantities,
    session_harvest,
)
from service.schedule.stored_skin import stored_skin
from service.schedule.strips import usual_strip
from service.schedule.theatre_team import theatre_roles, theatre_timers

_ROOM_RULES = ("warm-room", "two-teams")
_ISLAND_RULES = (
    "no-oil-or-grease",
    "spray-distance",
    "adhesive-drying",
    "dermal-side-to-wound",
    "stretch-both-ways",
    "carriers-close",
    "carriers-stapled",
    "leftovers-on-further-plate",
)


def make_theatre_list(
    case: GraftingCase, plan: SettledPlan, session: Session, evidence: Evidence, preferences: Preferences,
    forecast: CourseForecast | None = None,
) -> TheatreList:
    """Quantities, carriers, order of work and preparation rules of one session.

    Parameters
    ----------
    case : GraftingCase
    plan : SettledPlan
    session : Session
        One of the sessions of the plan, firm or contingent.
    evidence : Evidence
        Rows of theatre minutes, blood loss, strips, plates and expansion.
    preferences : Preferences
        The quantile of expansion that planning uses.
    forecast : CourseForecast, optional
        Intervals of skin and plates from simulated courses; without it those of the sources.

    Returns
    -------
    TheatreList
        Areas in cm², blood in mL, minutes as estimates.
    """
    placements = [p for p in plan.placements if p.day == session.day]
    harvests = _harvest_lines(case, plan, session, evidence, preferences, forecast)
    islands = [p for p in placements if p.plates is not None]
    has_excision = any(e.day == session.day for e in plan.excisions)
    return TheatreList(
        session=session.ordinal,
        quantities=tuple(_quantities(case, plan, session, harvests, islands, evidence, preferences, forecast)),
        carriers=carriers_by_ratio(plan, session.day),
        spare_carriers=int(evidence.value("spare-plates")) if islands else 0,
        carriers_short=find_short_carriers(case, plan, session, evidence),
        steps=order_of_work(case, plan, session, evidence),
        roles=tuple(theatre_roles(session, evidence, has_islands=bool(islands))),
        timers=tuple(theatre_timers(evidence, has_islands=bool(islands), has_excision=has_excision)),
        preparation=tuple(_preparation(placements, islands)),
        stored=tuple(stored_skin(case, plan, session, evidence)),
        harvests=harvests,
        leftovers=leftover_skin(case, plan, session, evidence),
        surplus=likely_surplus(case, plan, session, evidence, forecast),
    )


def _preparation(placements: list[Placement], islands: list[Placement]) -> Iterator[str]:
    """Codes of what to mind in the room, with the skin and at the end."""
    yield from _ROOM_RULES
    if islands:
        yield from _ISLAND_RULES
    if any(p.plates != int(p.plates) for p in islands):
        yield "carriers-shared"
    if placements:
        yield "count-staples"


def _harvest_lines(
    case: GraftingCase, plan: SettledPlan, session: Session, evidence: Evidence, preferences: Preferences,
    forecast: CourseForecast | None,
) -> tuple[HarvestLine, ...]:
    """One line for each site and thickness: skin of several harvest numbers is cut in the same strips."""
    today = sorted(
        (h for h in plan.harvests if h.day == session.day), key=lambda h: (h.site_id, h.thickness, h.harvest_number))
    lines = []
    for (site_id, thickness), group in groupby(today, key=lambda h: (h.site_id, h.thickness)):
        same = tuple(group)
        area = sum_quantities("harvest-area", [
            harvest_quantity(h, case, plan, evidence, preferences, forecast) for h in same])
        lines.append(_harvest_line(site_id, thickness, same, area, evidence))
    return tuple(lines)


def _harvest_line(
    site_id: str, thickness: Thickness, same: tuple[Harvest, ...], area: Quantity, evidence: Evidence
) -> HarvestLine:
    strip = usual_strip(evidence)
    kept = 1 - evidence.value("handling-loss")
    return HarvestLine(
        site_id,
        thickness,
        tuple((h.harvest_number, h.area_cm2) for h in same),
        area,
        strip.strips_needed(area.value),
        strip.plates_from_whole_squares(area.value),
        strip.plates_with_piecing(area.value * kept),
    )


def _quantities(
    case: GraftingCase,
    plan: SettledPlan,
    session: Session,
    harvests: tuple[HarvestLine, ...],
    islands: list[Placement],
    evidence: Evidence,
    preferences: Preferences,
    forecast: CourseForecast | None,
) -> Iterator[Quantity]:
    if harvests:
        yield session_harvest([line.area for line in harvests], session.ordinal, forecast)
        yield Quantity(
            "strips",
            Decimal(sum(line.strips for line in harvests)),
            None,
            None,
            "1",
            ("strip-width-mm/any", "strip-length-mm/any"),
        )
    if islands:
        yield from _island_quantities(harvests, islands, session, evidence, preferences, forecast)
    yield expected_blood_loss(case, plan, session, evidence)
    yield Quantity(
        "units-to-have-ready",
        Decimal(session.units_to_have_ready),
        None,
        None,
        "1",
        ("red-cell-unit-volume/any",),
    )
    yield from _minutes(session, evidence)


def _island_quantities(
    harvests: tuple[HarvestLine, ...],
    islands: list[Placement],
    session: Session,
    evidence: Evidence,
    preferences: Preferences,
    forecast: CourseForecast | None,
) -> Iterator[Quantity]:
    parts = [plate_quantities(p, evidence, preferences, graft_forecast(p, session.ordinal, forecast)) for p in islands]
    plates = in_whole_plates(sum_quantities("plates", [plate for plate, _ in parts]))
    yield plates
    yield in_whole_plates(sum_quantities("carriers", [carrier for _, carrier in parts]))
    yield from _plate_yield(harvests, islands, evidence)
    row = evidence.row("theatre-minutes", "plate-preparation")
    yield Quantity(
        "plate-preparation-person-minutes",
        plates.value * row.value,
        plates.low * row.low,
        plates.high * row.high,
        "min",
        (row.row_id,),
    )


def _plate_yield(harvests: tuple[HarvestLine, ...], islands: list[Placement], evidence: Evidence) -> Iterator[Quantity]:
    """Plates that the skin of the right thickness gives, as whole squares and with pieces laid together."""
    strip = usual_strip(evidence)
    thicknesses = {p.skin_class.thickness for p in islands}
    fitting = [line for line in harvests if line.thickness in thicknesses]
    usable = sum((line.area.value for line in fitting), Decimal(0)) * (1 - evidence.value("handling-loss"))
    whole = sum(line.plates_from_whole_squares for line in fitting)
    sources = ("strip-width-mm/any", "strip-length-mm/any", "plate-side-mm/any")
    yield Quantity("squares-per-strip", Decimal(strip.whole_squares()), None, None, "1", sources)
    waste = (1 - strip.whole_square_share) * 100
    yield Quantity("strip-waste", waste.quantize(Decimal(1)), None, None, "%", sources)
    yield Quantity("plates-from-whole-squares", Decimal(whole), None, None, "1", sources)
    yield Quantity(
        "plates-with-piecing",
        Decimal(strip.plates_with_piecing(usable)),
        None,
        None,
        "1",
        ("plate-side-mm/any", "handling-loss/any"),
    )


def _minutes(session: Session, evidence: Evidence) -> Iterator[Quantity]:
    """Minutes of surgery, and minutes in the room with induction, preparation and exit."""
    surgery = _procedure_minutes(session, evidence)
    yield surgery
    rows = [evidence.row("theatre-minutes", name) for name in ("induction", "preparation", "exit")]
    yield Quantity(
        "in-room-minutes",
        surgery.value + sum(r.value for r in rows),
        surgery.low + sum(r.low for r in rows),
        surgery.high + sum(r.high for r in rows),
        "min",
        tuple(row.row_id for row in rows),
    )


def _procedure_minutes(session: Session, evidence: Evidence) -> Quantity:
    """Fixed part and turns with their own range; the rest spreads like the minutes for each percent."""
    fixed, turn, percent = (evidence.row("theatre-minutes", name) for name in ("fixed", "turn", "per-percent"))
    turns = len(session.positions) - 1
    total = Decimal(session.procedure_minutes)
    rest = max(total - fixed.value - turns * turn.value, Decimal(0))
    low, high = (
        (getattr(fixed, end) + turns * getattr(turn, end) + rest * getattr(percent, end) / percent.value).quantize(
            Decimal(1)
        )
        for end in ("low", "high")
    )
    return Quantity(
        "procedure-minutes",
        total,
        min(low, total),
        max(high, total),
        "min",
        (
            "theatre-minutes/fixed",
            "theatre-minutes/per-percent",
            "theatre-minutes/turn",
            "theatre-minutes/special-area",
        ),
    )
