"""Who asks for what, for the audit trail; and the layer that leaves the row of each refusal."""

from __future__ import annotations

import logging
from time import perf_counter

from anyio import to_thread
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service import __version__
from service.domain.errors import StorageFault
from service.fhir.hook_services import GRAFT_ORDER, GRAFT_PLAN
from service.storage.audit_entry import Asked, describe_refusal
from service.wiring import Parts

log = logging.getLogger("graftstage")

UNAUTHENTICATED = "unauthenticated"
_HOOK_SERVICES = (GRAFT_PLAN.id, GRAFT_ORDER.id)
#: Addresses that are asked for an answer, with the name that the trail has for each. No other text of a path is kept.
_OPERATIONS = {
    **{f"/fhir/${name}": name for name in ("plan-grafts", "read-burn-record")},
    **{f"/cds-services/{name}": name for name in _HOOK_SERVICES},
    **{f"/cds-services/{name}/feedback": f"{name}-feedback" for name in _HOOK_SERVICES},
    **{f"/workbench/{step}": f"workbench-{step}" for step in ("read", "plan", "done", "download")},
}


def asked_by(request: Request) -> Asked:
    """The caller, once it is known who it is, and the operation that the address names."""
    return _asked(request.scope)


def note_body(request: Request, body: bytes) -> None:
    """Keep hold of a body, so that the row of a refusal can say which one it was."""
    request.state.body = body


def note_errors(scope: Scope, error_ids: tuple[str, ...]) -> None:
    """Keep what a request is refused for."""
    _state(scope)["error_ids"] = error_ids


class RefusalAudit:
    """A refusal of an operation leaves a row before it leaves; an answer has left its own."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] != "POST" or _operation(scope) is None:
            await self.app(scope, receive, send)
            return
        started = perf_counter()

        async def send_recorded(message: Message) -> None:
            if message["type"] == "http.response.start" and message["status"] >= 400:
                milliseconds = round(1000 * (perf_counter() - started))
                await to_thread.run_sync(leave_refusal, scope, message["status"], milliseconds)
            await send(message)

        await self.app(scope, receive, send_recorded)


def leave_refusal(scope: Scope, status: int, milliseconds: int) -> None:
    """The row of a refusal. It holds nothing to protect, so it leaves even when the row cannot be kept."""
    parts: Parts = scope["app"].state.parts
    state = _state(scope)
    try:
        parts.storage.trail.append(describe_refusal(
            _asked(scope), status, state.get("error_ids", ()), state.get("body"), software=__version__,
            duration_milliseconds=milliseconds))
    except StorageFault as fault:
        log.error("a refusal is not in the audit trail: %s", fault)


def _asked(scope: Scope) -> Asked:
    return Asked(_state(scope).get("caller", UNAUTHENTICATED), _operation(scope) or "unknown")


def _operation(scope: Scope) -> str | None:
    return _OPERATIONS.get(scope["path"].removesuffix("/"))


def _state(scope: Scope) -> dict:
    return scope.setdefault("state", {})
