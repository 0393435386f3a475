"""Every page and state, judged by axe and used as people with other bodies and devices use it."""

from pathlib import Path

import pytest

from tests.browser.conftest import LANGUAGES
from tests.browser.workbench import compared, open_sample, plan_sample

AXE = Path(__file__).parents[1] / "contract" / "node_modules" / "axe-core" / "axe.min.js"
STANDARDS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def violations(page) -> list[str]:
    """What axe finds against WCAG 2.2 AA and its good practice."""
    page.evaluate(AXE.read_text())  # through the debugger, past the policy that keeps other scripts out
    found = page.evaluate(
        "standards => axe.run(document, {runOnly: {type: 'tag', values: standards}})", STANDARDS)["violations"]
    return [f"{v['id']}: {n['html'][:160]}" for v in found for n in v["nodes"]]


def show_home(page, address):
    page.goto(address)


def show_read(page, address):
    open_sample(page, address)
    for summary in page.locator("summary").all():
        summary.click()


def show_missing(page, address):
    open_sample(page, address, "missing-weight")


def show_wrong(page, address):
    page.goto(address)
    page.select_option("#sample", "wrong-units")
    page.locator("form").first.locator("button").click()
    page.wait_for_selector(".problem")


def show_plan(page, address):
    plan_sample(page, address)


def show_open_wounds(page, address):
    plan_sample(page, address, "adult-85-percent")


def show_compared(page, address):
    plan_sample(page, address)
    page.fill("#weight", "70")
    page.locator("form", has=page.locator("#as-of")).locator("button").click()
    page.wait_for_selector("text=The plan before")


def show_sheet(page, address):
    plan_sample(page, address)
    with page.context.expect_page() as opened:
        page.locator('button[value="sheet.html"]').click()
    opened.value.wait_for_load_state()
    return opened.value


STATES = (show_home, show_read, show_missing, show_wrong, show_plan, show_open_wounds, show_compared, show_sheet)


@pytest.mark.parametrize("state", STATES)
def test_axe_finds_nothing(page, address, state):
    shown = state(page, address) or page
    assert violations(shown) == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_axe_finds_nothing_in_any_language(page, address, language):
    open_sample(page, address, language=language)
    assert page.locator("html").get_attribute("lang") == language
    assert page.locator("html").get_attribute("dir") == ("rtl" if language == "ar" else "ltr")
    assert violations(page) == []


@pytest.mark.parametrize("state", [show_home, show_plan, show_sheet])
def test_at_320_pixels_nothing_runs_off_the_page(page, address, state):
    """The width of 1280 pixels at 400 %: one column, only tables and charts scroll in their own frame."""
    page.set_viewport_size({"width": 320, "height": 640})
    shown = state(page, address) or page
    shown.set_viewport_size({"width": 320, "height": 640})
    assert shown.evaluate("document.documentElement.scrollWidth") <= 320


def test_a_sample_is_planned_with_the_keyboard_alone(page, address):
    page.goto(address)

    def go_to(selector):
        for _ in range(200):
            page.keyboard.press("Tab")
            if page.evaluate("s => document.activeElement.matches(s)", selector):
                outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
                assert outline != "none", f"{selector} shows no focus"
                return
        raise AssertionError(f"{selector} is not reached")

    go_to("#sample")
    page.keyboard.type("hands")
    go_to("form button")
    page.keyboard.press("Enter")
    page.wait_for_selector("#understood")
    go_to("#weight")
    go_to("form:has(#as-of) button")
    page.keyboard.press("Enter")
    page.wait_for_selector("#plan")
    assert page.evaluate("document.activeElement.id") == "plan"
    assert compared(page)["Sessions"]


def test_the_first_stop_leads_past_the_head(page, address):
    page.goto(address)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.getAttribute('href')") == "#content"
