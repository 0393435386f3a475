"""What a running service does beside answering: requests that were kept are dropped when their time is over."""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import UTC, datetime

import anyio
from fastapi import FastAPI

from service.domain.errors import StorageFault
from service.storage.kept_plans import KeptPlans

log = logging.getLogger("graftstage")
#: A kept request stays at most so long beyond its time. [s]
PAUSE_SECONDS = 300


@asynccontextmanager
async def upkeep(app: FastAPI) -> AsyncIterator[None]:
    """Runs from the start of the service to its end."""
    async with anyio.create_task_group() as tasks:
        tasks.start_soon(_drop_expired_again_and_again, app.state.parts.storage.kept_plans)
        yield
        tasks.cancel_scope.cancel()


async def _drop_expired_again_and_again(kept_plans: KeptPlans) -> None:
    while True:
        await anyio.to_thread.run_sync(_drop_expired, kept_plans)
        await anyio.sleep(PAUSE_SECONDS)


def _drop_expired(kept_plans: KeptPlans) -> None:
    try:
        kept_plans.drop_expired(datetime.now(UTC))
    except StorageFault as fault:
        log.error("kept requests could not be dropped: %s", fault)
