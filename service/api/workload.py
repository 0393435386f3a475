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
        self._waiting = waiting
        self._limiter: CapacityLimiter | None = None

    async def run(self, call: Callable[[], Answer]) -> Answer:
        """The result of ``call``. Raises ``TransportFault`` (429) when the queue is full."""
        if self._limiter is None:  # belongs to the event loop that first uses it
            self._limiter = CapacityLimiter(self._concurrent)
        if self._limiter.statistics().tasks_waiting >= self._waiting and self._limiter.available_tokens == 0:
            raise TransportFault("busy", {"Retry-After": RETRY_AFTER_SECONDS})
        return await to_thread.run_sync(call, limiter=self._limiter)
