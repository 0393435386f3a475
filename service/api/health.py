"""Whether the process lives and whether it can plan. Neither waits for a plan to be made."""

from __future__ import annotations

from anyio import to_thread
from fastapi import APIRouter, Request
from starlette.responses import PlainTextResponse

from service.api.answers import NOT_STORED, parts_of
from service.domain.errors import StorageFault

router = APIRouter(tags=["health"], default_response_class=PlainTextResponse)


@router.get("/livez", summary="The process lives")
async def livez() -> PlainTextResponse:
    return PlainTextResponse("ok", headers=NOT_STORED)


@router.get("/readyz", summary="Evidence and preferences are loaded and locked, and the database answers",
            responses={503: {"description": "The database does not answer"}})
async def readyz(request: Request) -> PlainTextResponse:
    parts = parts_of(request)
    try:
        await to_thread.run_sync(parts.storage.trail.head)
    except StorageFault:
        return PlainTextResponse("not ready: the database does not answer", 503, headers=NOT_STORED)
    return PlainTextResponse(f"ready, evidence {parts.evidence.version}", headers=NOT_STORED)
