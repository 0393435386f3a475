"""Burn extents, other open wounds and the state of their beds."""

from __future__ import annotations

from decimal import Decimal

from service.domain.body_region import Region, Side
from service.domain.burn_wound import BedRecord, BedState, BurnExtent, Depth, OpenWound
from service.fhir.read_context import ReadContext
from service.fhir.read_statements import Statement

HUNDRED = Decimal(100)
#: States that only hold the surgeon back may speak of both surfaces at once.
_RESTRICTING = (BedState.COLONISED, BedState.INFECTED, BedState.STREPTOCOCCUS)


def _miss_surface(statement: Statement, context: ReadContext) -> None:
    context.log.miss("surface", f"{statement.expression}.component")


def _joint_fraction(statement: Statement) -> Decimal | None:
    percent = statement.components.get("over-joint")
    return percent / HUNDRED if percent is not None else None


def _read_extent(statement: Statement, context: ReadContext) -> BurnExtent | None:
    place, depth = statement.site.place, statement.components.get("burn-depth")
    if statement.value is None:
        context.log.miss("extent", f"{statement.expression}.value")
    elif statement.value == 0:
        return None
    elif depth is None:
        context.log.miss("burn-depth", f"{statement.expression}.component")
    elif place is None:
        _miss_surface(statement, context)
    else:
        is_of_region = statement.profile.code == "burn-extent-of-region"
        if is_of_region and statement.value < 1:
            context.log.fault("percent-or-fraction", f"{statement.expression}.value")
        return BurnExtent(
            place=place,
            depth=Depth(depth),
            percent_tbsa=None if is_of_region else statement.value,
            percent_of_region=statement.value if is_of_region else None,
            observed=statement.moment.day,
            source=statement.key,
            over_joint_fraction=_joint_fraction(statement),
            watch_until=statement.components.get("watch-until"),
        )
    return None


def read_extents(statements: tuple[Statement, ...], context: ReadContext) -> tuple[BurnExtent, ...]:
    """Extents above zero; one without value, depth or surface is a missing datum."""
    about = [s for s in statements if s.profile.code in ("burn-extent", "burn-extent-of-region")]
    return tuple(extent for s in about if (extent := _read_extent(s, context)))


def read_open_wounds(statements: tuple[Statement, ...], context: ReadContext) -> tuple[OpenWound, ...]:
    wounds = []
    for statement in statements:
        if statement.profile.code != "open-wound" or statement.value == 0:
            continue
        if statement.value is None:
            context.log.miss("area", f"{statement.expression}.value")
        elif statement.site.place is None:
            _miss_surface(statement, context)
        else:
            wounds.append(
                OpenWound(statement.site.place, statement.value, statement.moment.day, statement.key))
    return tuple(wounds)


def read_beds(statements: tuple[Statement, ...], context: ReadContext) -> tuple[BedRecord, ...]:
    """Bed states; one that only holds back speaks of both surfaces when it names none."""
    beds = []
    for statement in statements:
        if statement.profile.code != "wound-bed-state":
            continue
        if statement.value is None:
            context.log.put_aside("data-absent", statement.expression, "Observation")
            continue
        state = BedState(statement.value)
        if statement.site.place is None and state not in _RESTRICTING:
            _miss_surface(statement, context)
            continue
        ready_from = statement.components.get("ready-from")
        beds += [
            BedRecord(place, state, statement.moment.day, statement.key, ready_from)
            for place in statement.site.places
        ]
    return tuple(beds)


def read_amputated(statements: tuple[Statement, ...]) -> tuple[tuple[Region, Side | None], ...]:
    return tuple(
        (s.site.region, s.site.side) for s in statements
        if s.profile.code == "amputated" and s.value is True
    )


def read_total(statements: tuple[Statement, ...], context: ReadContext) -> Decimal | None:
    """Total extent for the cross-check; a value below 1 % is taken for a fraction and refused."""
    found = next((s for s in statements if s.profile.code == "total-burn-extent"), None)
    if found is None or found.value is None:
        return None
    if 0 < found.value < 1:
        context.log.fault("percent-or-fraction", f"{found.expression}.value")
        return None
    return found.value
