"""Where plans are made: a few threads of their own, off the event loop, with a short queue."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from anyio import CapacityLimiter, to_thread

from service.api.transport_faults import TransportFault

Answer = TypeVar("Answer")
RETRY_AFTER_SECONDS = "2"


class Workload:
    """At most ``concurrent`` calls run and ``waiting`` wait; further ones are turned away."""

    def __init__(self, concurrent: int, waiting: int) -> None:
        self._concurrent = concurrent
        self._most_admitted = concurrent + waiting
        self._admitted = 0  # changed on the event loop only
        self._limiter: CapacityLimiter | None = None

    async def run(self, call: Callable[[], Answer]) -> Answer:
        """The result of ``call``. Raises ``TransportFault`` (429) when the queue is full."""
        if self._limiter is None:  # belongs to the event loop that first uses it
            self._limiter = CapacityLimiter(self._concurrent)
        if self._admitted >= self._most_admitted:
            raise TransportFault("busy", {"Retry-After": RETRY_AFTER_SECONDS})
        self._admitted += 1
        try:
            return await to_thread.run_sync(call, limiter=self._limiter)
        finally:
            self._admitted -= 1
