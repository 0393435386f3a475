"""Pages for a person: what this is, and the interactive API page, both without a network."""

from __future__ import annotations

from html import escape
from pathlib import Path

import fastapi_offline
from fastapi import APIRouter, Request
from fastapi.openapi.docs import get_swagger_ui_html
from starlette.responses import FileResponse, HTMLResponse

from service import __version__
from service.api.answers import parts_of
from service.wording.cautions import CAUTIONS

router = APIRouter(include_in_schema=False)
TITLE = "Graftstage: staged autograft planner"
_ASSETS = Path(fastapi_offline.__file__).parent / "static"
_SCRIPT, _STYLE, _ICON = "swagger-ui-bundle.js", "swagger-ui.css", "favicon.png"

_LANDING = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{title}</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>body{{font:1rem/1.5 system-ui,sans-serif;max-width:42rem;margin:3rem auto;padding:0 1rem}}</style>
</head><body>
<h1>{title}</h1>
<p>Plans the whole course of autografting of a severe burn from the record: what to excise, harvest and
graft in each session, what donor skin is left, and when to dress, inspect and uncover.</p>
<ul>{cautions}</ul>
<p><a href="{root}/docs">Interactive API page</a> ·
<a href="{root}/fhir/metadata?_pretty=true">CapabilityStatement</a> ·
<a href="{root}/openapi.json">OpenAPI</a></p>
<p>Version {version}, evidence {evidence}</p>
</body></html>
"""


@router.get("/")
async def landing(request: Request) -> HTMLResponse:
    cautions = "".join(f"<li>{escape(caution)}</li>" for caution in CAUTIONS)
    return HTMLResponse(_LANDING.format(
        title=TITLE, cautions=cautions, root=escape(_root(request)), version=__version__,
        evidence=escape(parts_of(request).evidence.version)))


@router.get("/docs")
async def interactive_page(request: Request) -> HTMLResponse:
    root = _root(request)
    return get_swagger_ui_html(
        openapi_url=f"{root}/openapi.json", title=TITLE, swagger_js_url=f"{root}/docs/{_SCRIPT}",
        swagger_css_url=f"{root}/docs/{_STYLE}", swagger_favicon_url=f"{root}/docs/{_ICON}")


def _add_asset_route(name: str) -> None:
    """One named file: no folder is served, so no path can leave it."""

    @router.get(f"/docs/{name}")
    async def asset() -> FileResponse:
        return FileResponse(_ASSETS / name, headers={"Cache-Control": "max-age=3600"})


for _name in (_SCRIPT, _STYLE, _ICON):
    _add_asset_route(_name)


def _root(request: Request) -> str:
    """Prefix under which a proxy serves the application; usually empty."""
    return request.scope.get("root_path", "")
