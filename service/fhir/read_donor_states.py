"""The recorded state of donor sites."""

from __future__ import annotations

from decimal import Decimal

from service.domain.donor_site import DonorState, DonorStateRecord
from service.fhir.read_context import ReadContext
from service.fhir.read_statements import Statement

HUNDRED = Decimal(100)


def read_donor_states(
    statements: tuple[Statement, ...], context: ReadContext
) -> tuple[DonorStateRecord, ...]:
    """Donor states; only a healed site without its surface is asked for it."""
    states = []
    for statement in statements:
        if statement.profile.code != "donor-site-state":
            continue
        if statement.value is None:
            context.log.put_aside("data-absent", statement.expression, "Observation")
            continue
        state = DonorState(statement.value)
        if statement.site.place is None and state is DonorState.HEALED:
            context.log.miss("surface", f"{statement.expression}.component")
            continue
        share = statement.components.get("usable-share")
        if share is not None and 0 < share < 1:
            context.log.fault("percent-or-fraction", f"{statement.expression}.component")
        states += [
            DonorStateRecord(
                place, state, statement.moment.day, statement.key,
                share / HUNDRED if share is not None else None)
            for place in statement.site.places
        ]
    return tuple(states)
