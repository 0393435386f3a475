"""Write what the service publishes about itself to ``openapi/``: ``python -m tests.api.write_openapi``."""

import json
from pathlib import Path

from service.api.app import create_app
from service.fhir.export_conformance import export_conformance
from service.settings import Settings
from tests.api.errors_page import ERRORS_PAGE, write_errors_page

OPENAPI = Path(__file__).resolve().parents[2] / "openapi"


def described_api() -> str:
    """The OpenAPI document of the default deployment, as the file holds it."""
    return json.dumps(create_app(Settings()).openapi(), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    (OPENAPI / "openapi.json").write_text(described_api(), encoding="utf-8")
    ERRORS_PAGE.write_text(write_errors_page(), encoding="utf-8")
    export_conformance(OPENAPI / "fhir")
