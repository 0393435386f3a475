"""What a token has to allow for each operation: SMART has no scopes for operations, so a table says it.

An operation reads what the record holds and is sent, and changes nothing; so it needs what reading those types from a
server would need. The table drives the check, the OperationDefinitions and ``.well-known/smart-configuration``.
"""

from __future__ import annotations

from functools import lru_cache

from service.fhir.tables import read_table
from service.tokens.scopes import Need


@lru_cache(maxsize=1)
def operation_needs() -> dict[str, tuple[Need, ...]]:
    """By code of the operation. One that is not listed is open to everybody."""
    needs: dict[str, tuple[Need, ...]] = {}
    for row in read_table("operation_scopes"):
        need = Need(row["resource_type"], row["interactions"])
        needs[row["operation"]] = (*needs.get(row["operation"], ()), need)
    return needs


@lru_cache(maxsize=1)
def all_needs() -> tuple[Need, ...]:
    """Everything that any operation needs, each once."""
    return tuple(dict.fromkeys(need for needs in operation_needs().values() for need in needs))


def scope_text(needs: tuple[Need, ...]) -> str:
    """The narrowest scopes that are enough, as a token would state them."""
    return " ".join(need.scope for need in needs)
