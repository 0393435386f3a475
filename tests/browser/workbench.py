"""What a person does on the workbench, step by step."""

from __future__ import annotations

from playwright.sync_api import Page

SAMPLE = "adult-60-percent-first-plan"


def open_sample(page: Page, address: str, sample: str = SAMPLE, language: str = "en") -> None:
    page.goto(f"{address}/?language={language}")
    page.select_option("#sample", sample)
    page.locator("form").first.locator("button").click()
    page.wait_for_selector("#understood")


def plan(page: Page) -> None:
    page.locator("form", has=page.locator("#as-of")).locator("button").click()
    page.wait_for_selector("#plan")


def plan_sample(page: Page, address: str, sample: str = SAMPLE) -> None:
    open_sample(page, address, sample)
    plan(page)


def compared(page: Page) -> dict[str, list[str]]:
    """Rows of the table of plans, the first of the page: name, and a value for each plan."""
    rows = page.locator("table:has(caption)").first.locator("tbody tr")
    return {
        row.locator("th").inner_text(): [cell.replace(" (changed)", "") for cell in row.locator("td").all_inner_texts()]
        for row in rows.all()
    }
