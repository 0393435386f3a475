"""A request that is kept with its plan for a while."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class KeptPlan:
    """What makes one plan again: the request as it was received, and what it was read with."""

    plan_id: str
    input_body: bytes
    as_of: str  # ISO 8601 with offset
    search_seconds: str
    expires_at: datetime  # aware
