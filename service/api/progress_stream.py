"""News of a plan while it is made, one JSON object a line, and the page itself in the last line."""

from __future__ import annotations

import json
from asyncio import Task, create_task, wait
from collections.abc import AsyncIterator, Callable, Coroutine
from time import perf_counter

from anyio import CancelScope, to_thread
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

from service.api.audit import leave_refusal
from service.domain.search_news import SearchNews, SearchWatch

NDJSON = "application/x-ndjson"
#: Not kept, and passed on by proxies line by line.
_HEADERS = {"Cache-Control": "no-store", "X-Content-Type-Options": "nosniff", "X-Accel-Buffering": "no"}
#: How often it is looked for news. [s]
_LOOK_SECONDS = 0.1
#: Looks without news after which the last is told again: a proxy closes what is silent for long.
_SILENT_LOOKS = 20


def wants_progress(request: Request) -> bool:
    """Whether a page asks for the news; any other caller gets the answer alone."""
    return request.headers.get("accept", "") == NDJSON


async def follow(
    request: Request, making: Coroutine[None, None, Response], watch: SearchWatch,
    describe: Callable[[SearchNews], dict],
) -> Response:
    """The answer of ``making``, preceded by its news where there are any before it is ready.

    What is refused before there is news, as unreadable records are, is an answer like any other, with its status.

    Parameters
    ----------
    request : Request
        What is answered.
    making : coroutine
        Makes the answer.
    watch : SearchWatch
        Where its news arrives.
    describe : callable
        The news as it goes out; the last line has ``status`` and ``page``.
    """
    started, waiting = perf_counter(), CancelScope()
    task = create_task(_run(making, waiting))
    while watch.latest is None and not task.done():
        await wait({task}, timeout=_LOOK_SECONDS)
    if task.done():
        return task.result()
    lines = _lines(request, task, waiting, watch, describe, started)
    return StreamingResponse(lines, headers=_HEADERS, media_type=NDJSON)


async def _run(making: Coroutine[None, None, Response], waiting: CancelScope) -> Response:
    """Within the scope of whoever waits: a thread that has begun keeps its place among the others until it ends."""
    with waiting:
        return await making


async def _lines(
    request: Request, task: Task[Response], waiting: CancelScope, watch: SearchWatch,
    describe: Callable[[SearchNews], dict], started: float,
) -> AsyncIterator[bytes]:
    """Ends early when the client goes: a plan that has not begun is then not begun, one that has ends by itself."""
    told, silent_looks = None, 0
    try:
        while not task.done():
            news, silent_looks = watch.latest, silent_looks + 1
            if news != told or silent_looks >= _SILENT_LOOKS:
                yield _line(describe(news))
                told, silent_looks = news, 0
            await wait({task}, timeout=_LOOK_SECONDS)
    finally:
        waiting.cancel()
    made = task.result()
    if made.status_code >= 400:
        milliseconds = round(1000 * (perf_counter() - started))
        await to_thread.run_sync(leave_refusal, request.scope, made.status_code, milliseconds)
    yield _line({"status": made.status_code, "page": made.body.decode()})


def _line(told: dict) -> bytes:
    return json.dumps(told, ensure_ascii=False).encode() + b"\n"
