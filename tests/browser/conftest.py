"""A real Chromium in front of a real service. Nothing but the service is reachable from its pages."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, Route, sync_playwright

from service.settings import Settings
from tests.conftest import serve

CHROMIUM = "/usr/bin/chromium"
LANGUAGES = ("de", "es", "fr", "ar")


@pytest.fixture(scope="session")
def address() -> Iterator[str]:
    """The service with every shipped language switched on."""
    with serve(Settings(languages=LANGUAGES)) as started:
        yield started


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    """Ends with this folder: as long as Playwright lives, no other test can start an event loop."""
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield started
        started.close()


def _is_fault(told: ConsoleMessage) -> bool:
    """A browser notes every answer of 400 and above; one of 422 is what a wrong field is for."""
    return told.type == "error" and "422" not in told.text


@pytest.fixture
def page(browser: Browser, address: str) -> Iterator[Page]:
    """A page that may speak to the service alone; an error in it fails the test."""
    context = browser.new_context(viewport={"width": 1280, "height": 900}, accept_downloads=True)
    context.grant_permissions(["clipboard-read", "clipboard-write"], origin=address)
    opened = context.new_page()
    faults: list[str] = []

    def admit(route: Route) -> None:
        if route.request.url.startswith((address, "data:", "blob:")):
            route.continue_()
        else:
            faults.append(f"asked for {route.request.url}")
            route.abort()

    context.route("**/*", admit)
    opened.on("pageerror", lambda error: faults.append(str(error)))
    opened.on("console", lambda told: faults.append(told.text) if _is_fault(told) else None)
    yield opened
    context.close()
    assert not faults
