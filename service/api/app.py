"""The application: routes, layers around them, and the parts they share."""

from __future__ import annotations

import logging

from fastapi import Depends, FastAPI
from fastapi.openapi.utils import get_openapi
from starlette.exceptions import HTTPException
from starlette.middleware.cors import CORSMiddleware
from starlette.requests import Request
from starlette.responses import Response

from service import __version__
from service.api import cds_hooks, fhir_operations, health, pages, plans, well_known, workbench
from service.api.answers import write_error
from service.api.audit import RefusalAudit
from service.api.conformance import Conformance
from service.api.errors import allowed_methods
from service.api.idempotency import IdempotencyKeys
from service.api.lingering_close import LingeringClose
from service.api.openapi_schemas import answer_schemas, request_schemas
from service.api.request_frame import HeadAsGet, RequestFrame, TrailingSlash
from service.api.request_log import RequestLog
from service.api.security import Guard, require_token
from service.api.transport_faults import TransportFault
from service.api.upkeep import upkeep
from service.api.workload import Workload
from service.domain.errors import InvalidCase, OtherPatient, ServiceFault
from service.fhir.resources import warm_up
from service.settings import Settings, load_settings
from service.storage.storage import open_storage
from service.wiring import build_parts

log = logging.getLogger("graftstage")

TOKEN_SCHEME = "bearer"
DESCRIPTION = (
    "Decision support for licensed burn teams. Local protocol and clinical judgement come first. "
    "Not a medical device as shipped. No record is kept unless the site "
    "says so, and nothing is ordered.")


def create_app(settings: Settings | None = None) -> FastAPI:
    """The application with its parts loaded and its database at the tables of this release.

    Raises ``SettingsFault`` when the environment is unusable and ``ServiceFault`` when the
    evidence does not fit its lock or the database cannot be used.
    """
    settings = settings or load_settings()
    for warning in settings.warnings:
        log.warning(warning)
    warm_up()
    app = FastAPI(
        title="Graftstage", version=__version__, description=DESCRIPTION, docs_url=None, redoc_url=None,
        redirect_slashes=False, dependencies=[Depends(require_token)], lifespan=upkeep)
    app.state.parts = build_parts(settings, open_storage(settings.database))
    app.state.guard = Guard(settings, app.state.parts.storage.seen_tokens)
    app.state.conformance = Conformance(app.state.parts)
    app.state.idempotency_keys = IdempotencyKeys()
    app.state.workload = Workload(settings.concurrent_plans, settings.waiting_plans)
    for router in (
            fhir_operations.router, cds_hooks.router, well_known.router, health.router, pages.router, plans.router,
            workbench.router):
        app.include_router(router)
    for kind in (InvalidCase, OtherPatient, ServiceFault, TransportFault, HTTPException):
        app.add_exception_handler(kind, _answer_error)
    if settings.cors_origins:
        app.add_middleware(
            CORSMiddleware, allow_origins=settings.cors_origins, allow_methods=["GET", "POST"],
            allow_headers=["Accept", "Authorization", "Content-Type", "Idempotency-Key", "Prefer", "X-Request-Id"],
            expose_headers=["X-Request-Id", "Retry-After", "WWW-Authenticate"])
    app.add_middleware(TrailingSlash)
    app.add_middleware(HeadAsGet)
    app.add_middleware(RequestFrame, allowed_hosts=settings.allowed_hosts)
    app.add_middleware(RequestLog)
    app.add_middleware(RefusalAudit)
    app.add_middleware(LingeringClose)
    app.openapi = lambda: _describe(app)
    return app


async def _answer_error(request: Request, error: Exception) -> Response:
    if request.method == "OPTIONS" and isinstance(error, HTTPException) and error.status_code == 405:
        return Response(status_code=204, headers=allowed_methods(error))
    return write_error(request.scope, error)


def _describe(app: FastAPI) -> dict:
    """OpenAPI with the hand-trimmed request schemas; made once."""
    if not app.openapi_schema:
        described = get_openapi(
            title=app.title, version=app.version, description=app.description, routes=app.routes,
            license_info={"name": "Apache-2.0", "identifier": "Apache-2.0"})
        base = app.state.parts.settings.canonical_base
        described.setdefault("components", {})["schemas"] = {**request_schemas(base), **answer_schemas()}
        _describe_tokens(described)
        app.openapi_schema = described
    return app.openapi_schema


def _describe_tokens(described: dict) -> None:
    """A token goes with each operation that may refuse one; a deployment without issuers asks for none."""
    described["components"]["securitySchemes"] = {TOKEN_SCHEME: {
        "type": "http", "scheme": "bearer", "bearerFormat": "JWT",
        "description": "Access token, or token of a CDS Hooks client; only where tokens are asked for"}}
    operations = (operation for methods in described["paths"].values() for operation in methods.values())
    for operation in operations:
        if "401" in operation["responses"]:
            operation["security"] = [{}, {TOKEN_SCHEME: []}]
