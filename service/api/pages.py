"""The interactive API page, without a network."""

from __future__ import annotations

from pathlib import Path

import fastapi_offline
from fastapi import APIRouter, Request
from fastapi.openapi.docs import get_swagger_ui_html
from starlette.responses import FileResponse, HTMLResponse

router = APIRouter(include_in_schema=False)
TITLE = "Graftstage: staged autograft planner"
_ASSETS = Path(fastapi_offline.__file__).parent / "static"
_SCRIPT, _STYLE, _ICON = "swagger-ui-bundle.js", "swagger-ui.css", "favicon.png"

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
