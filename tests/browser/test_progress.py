"""Whoever waits sees the gap shrink, hears of it now and then, and gets the page; a lost connection is told."""

import re

import pytest
from playwright.sync_api import expect

from tests.browser.workbench import open_sample, plan

SAMPLE = "adult-60-percent-after-session-2-poor-take"
#: Keeps what the page shows while it waits: the words, how full the bar is, and what is said to who listens.
WATCH = """() => {
  const words = document.getElementById("working-words"), bar = document.getElementById("proven");
  const said = document.getElementById("progress");
  window.seen = []; window.heard = [];
  new MutationObserver(() => window.seen.push([words.textContent, bar.hasAttribute("value") ? bar.value : null]))
    .observe(words, { childList: true });
  new MutationObserver(() => { if (said.textContent) window.heard.push([said.textContent, Date.now()]); })
    .observe(said, { childList: true });
}"""


def plan_button(page):
    return page.locator("form", has=page.locator("#as-of")).locator("button")


def test_the_gap_shown_shrinks_or_stays_and_ends_with_the_plan(page, address):
    open_sample(page, address, SAMPLE)
    page.evaluate(WATCH)
    plan(page)
    seen, heard = page.evaluate("[window.seen, window.heard]")
    gaps = [float(found[1]) for words, _ in seen if (found := re.search(r"gap at most ([\d.]+) %", words))]
    assert len(set(gaps)) > 1 and gaps == sorted(gaps, reverse=True)
    bars = [value for _, value in seen if value is not None]
    assert bars == sorted(bars) and 0 < bars[0] < bars[-1] <= 1
    assert all(re.search(r"\d s$", words) for words, _ in seen)
    assert all(later - earlier >= 2900 for (_, earlier), (_, later) in zip(heard, heard[1:], strict=False))
    assert heard and not any(re.search(r"\d s\b", words) for words, _ in heard)
    assert page.locator("#working").is_hidden()
    assert page.evaluate("document.activeElement.id") == "plan"


def test_the_page_that_comes_can_plan_again(page, address):
    open_sample(page, address, "infant-20-percent")
    plan(page)
    page.fill("#weight", "12")
    plan_button(page).click()
    page.wait_for_selector("text=The plan before")
    assert page.locator("main").count() == 1
    assert page.input_value("#weight") == "12"


def test_a_second_press_while_planning_asks_nothing_more(page, address):
    open_sample(page, address, SAMPLE)
    asked = []
    page.on("request", lambda request: asked.append(request.url) if request.url.endswith("/workbench/plan") else None)
    plan_button(page).click()
    expect(plan_button(page)).to_have_attribute("aria-disabled", "true")
    plan_button(page).dispatch_event("click")
    page.wait_for_selector("#plan")
    assert len(asked) == 1


@pytest.mark.parametrize("broken", ["no connection", "half a line"])
def test_a_connection_that_is_lost_is_told_and_the_form_stays(browser, address, broken):
    context = browser.new_context()
    page = context.new_page()
    open_sample(page, address, SAMPLE)
    page.fill("#weight", "71")
    page.route("**/workbench/plan*", lambda route: route.abort() if broken == "no connection" else route.fulfill(
        body='{"step": "Filling', content_type="application/x-ndjson"))
    plan_button(page).click()
    expect(page.locator("#progress")).to_contain_text("connection was lost")
    assert page.locator("#progress").is_visible() and page.locator("#working").is_hidden()
    assert page.input_value("#weight") == "71"
    assert plan_button(page).get_attribute("aria-disabled") is None
    context.close()
