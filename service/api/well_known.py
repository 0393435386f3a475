"""Addresses that every system knows: where tokens come from, and the key that this service signs with."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import JSONResponse

from service.api import openapi_operations as described
from service.api.answers import parts_of
from service.api.transport_faults import TransportFault
from service.fhir.smart_configuration import write_smart_configuration

router = APIRouter()
#: Long enough to spare a server, short enough for a key that has to go. [s]
HELD = {"Cache-Control": "public, max-age=600"}


@router.get("/fhir/.well-known/smart-configuration", **described.SMART_CONFIGURATION)
@router.get("/.well-known/smart-configuration", include_in_schema=False)
async def smart_configuration(request: Request) -> JSONResponse:
    settings = parts_of(request).settings
    if not settings.access_token_issuers:
        raise TransportFault("path-not-found")
    return JSONResponse(write_smart_configuration(settings.token_endpoint), headers=HELD)


@router.get("/.well-known/jwks.json", **described.OWN_KEYS)
async def own_keys(request: Request) -> JSONResponse:
    keys = parts_of(request).own_key_set
    if keys is None:
        raise TransportFault("path-not-found")
    return JSONResponse(keys, headers=HELD)
