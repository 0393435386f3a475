"""The workbench as a person uses it: every figure agrees with the FHIR answer, and changes show what they change."""

import json
import re
from decimal import Decimal
from io import BytesIO

import pytest
from playwright.sync_api import expect
from pypdf import PdfReader

from service.wording.dates import date_in_words
from service.wording.rounding import need_cm2
from tests.browser.workbench import SAMPLE, compared, open_sample, plan, plan_sample
from tests.conftest import SAMPLES
from tests.planned_samples import reply_to

MOST_BYTES = 300_000


def answer_of(sample: str):
    return reply_to(sample).answer


def download(page, name: str) -> bytes:
    with page.expect_download() as coming:
        page.locator(f'button[value="{name}"]').click()
    return coming.value.path().read_bytes()


def test_the_figures_of_the_page_are_those_of_the_answer(page, address):
    plan_sample(page, address)
    answer, rows = answer_of(SAMPLE), {name: values[0] for name, values in compared(page).items()}
    firm = answer.plan.settled.firm_sessions
    taken = {s.day: sum(h.area_cm2 for h in answer.plan.settled.harvests if h.day == s.day) for s in firm}
    assert rows["Sessions"] == str(len(firm))
    assert rows["First session"] == date_in_words(answer.case.date_of(firm[0].day))
    assert rows["Skin in the first session"].startswith(need_cm2(taken[firm[0].day]))
    assert rows["Skin in all sessions"].startswith(need_cm2(sum(taken.values())))
    assert rows["Expected closed on"] == date_in_words(answer.case.date_of(answer.plan.closure_day))


def test_the_downloaded_answer_and_sheet_agree_figure_by_figure(page, address):
    plan_sample(page, address)
    bundle = json.loads(download(page, "answer.json"), parse_float=Decimal)
    pages = [p.extract_text() for p in PdfReader(BytesIO(download(page, "sheet.pdf"))).pages]
    tasks = [e["resource"] for e in bundle["entry"] if e["resource"]["resourceType"] == "Task"]
    printed = re.sub(r"[,\s]", "", " ".join(pages))
    codes = {"harvest-skin": "harvest-area", "place-graft": "graft-area", "excise-wound": "excised-area"}
    checked = 0
    for task in tasks:
        wanted = codes.get(task["code"]["coding"][0]["code"])
        inputs = [i for i in task.get("input", [])
                  if "valueQuantity" in i and i["type"].get("coding", [{}])[0].get("code") == wanted]
        for stated in inputs[1:] or inputs:  # the places, or the total where there is one place alone
            area = need_cm2(Decimal(stated["valueQuantity"]["value"])).replace(",", "").replace(" ", "")
            assert area in printed
            checked += 1
    assert checked > 10


def test_a_changed_weight_is_planned_and_stands_beside_the_plan_before(page, address):
    plan_sample(page, address)
    page.fill("#weight", "70")
    plan(page)
    page.wait_for_selector("text=The plan before")
    rows = compared(page)
    assert all(len(values) == 2 for values in rows.values())
    assert rows["Skin in the first session"][0] != rows["Skin in the first session"][1]
    assert rows["Skin in the first session"][1].startswith(need_cm2(sum(
        h.area_cm2 for h in answer_of(SAMPLE).plan.settled.harvests
        if h.day == answer_of(SAMPLE).plan.settled.firm_sessions[0].day)))


def test_an_excluded_donor_site_gives_no_skin(page, address):
    plan_sample(page, address)
    page.locator("summary", has_text="Donor sites").click()
    page.select_option('[name="donor:posterior-trunk"]', "excluded")
    plan(page)
    page.wait_for_selector("text=The plan before")
    assert re.search(r"back of trunk: skin is taken", page.locator("#plan + p ~ .maps").first.text_content()) is None
    bundle = json.loads(download(page, "answer.json"))
    harvests = [e["resource"]["description"] for e in bundle["entry"] if e["resource"]["resourceType"] == "Task"
                and e["resource"]["code"]["coding"][0]["code"] == "harvest-skin"]
    assert harvests and not any("back of trunk" in text for text in harvests)


def test_theatre_days_and_limits_are_kept(page, address):
    open_sample(page, address)
    page.fill("#theatre-days", "2026-03-06\n2026-03-11\n2026-03-18\n2026-03-25")
    page.fill('[name="session-area-limit"]', "5")
    plan(page)
    assert compared(page)["First session"][0] == "2026-03-06 Fri"
    request = json.loads(download(page, "request.json"))
    assert sum(p["name"] == "theatre-day" for p in request["parameter"]) == 4


def test_a_method_that_is_not_at_hand_is_not_planned(page, address):
    plan_sample(page, address)
    page.locator("summary", has_text="Methods at hand").click()
    for ratio in ("1-3", "1-4", "1-6", "1-9"):
        page.uncheck(f'[name="method:island-{ratio}"]')
    plan(page)
    page.wait_for_selector("text=The plan before")
    request = json.loads(download(page, "request.json"))
    assert not any("island" in p.get("valueCode", "") for p in request["parameter"] if p["name"] == "method-available")
    bundle = json.loads(download(page, "answer.json"))
    grafts = [e["resource"]["description"] for e in bundle["entry"] if e["resource"]["resourceType"] == "Task"
              and e["resource"]["code"]["coding"][0]["code"] == "place-graft"]
    assert grafts and not any("islands" in text for text in grafts)


def test_a_decision_is_added_and_kept(page, address):
    open_sample(page, address)
    page.locator("summary", has_text="Add a decision").click()
    page.select_option('[name="decide-act"]', "place")
    page.select_option('[name="decide-place"]', "right-hand")
    page.fill("#decide-date", "2026-03-09")
    plan(page)
    text = download(page, "answer.txt").decode()
    assert "Decided and kept: graft right hand on 2026-03-09 Mon." in re.sub(r"\s+", " ", text)


def test_noted_numbers_become_the_next_plan_and_nothing_is_done_twice(page, address):
    plan_sample(page, address)
    first = json.loads(download(page, "answer.json"))
    rows = page.locator("section:has(#done) tbody tr")
    for row in rows.all():
        planned = row.locator("td.number").inner_text().removesuffix(" cm²").replace(",", "")
        row.locator("input").first.fill(planned)
    page.locator('button[value="plan"]').click()
    page.wait_for_selector("text=The plan before")
    assert page.input_value("#as-of").startswith("2026-03-05T18:00:00")
    again = json.loads(download(page, "answer.json"))

    def sessions(bundle):
        return sorted(e["resource"]["occurrenceDateTime"] for e in bundle["entry"]
                      if e["resource"]["resourceType"] == "ServiceRequest" and "occurrenceDateTime" in e["resource"])

    assert sessions(first)[0] == "2026-03-05"
    assert sessions(again)[0] > "2026-03-05"


def test_noted_numbers_can_be_taken_along_as_a_bundle(page, address):
    plan_sample(page, address)
    page.locator("section:has(#done) tbody tr input").first.fill("1000")
    with page.expect_download() as coming:
        page.locator('button[value="download"]').click()
    bundle = json.loads(coming.value.path().read_bytes())
    assert bundle["type"] == "transaction"
    assert [e["resource"]["resourceType"] for e in bundle["entry"]] == ["Procedure", "Observation"]
    assert page.locator("#plan").is_visible()


@pytest.mark.parametrize("field, entered", [("#weight", "heavy"), ("#as-of", "yesterday"), ("#theatre-days", "soon")])
def test_what_cannot_be_read_is_named_and_not_repeated(page, address, field, entered):
    open_sample(page, address)
    page.fill(field, entered)
    with page.expect_response("**/workbench/plan") as told:
        page.locator("form", has=page.locator("#as-of")).locator("button").click()
    assert told.value.status == 422
    page.wait_for_selector("#problem")
    assert entered not in page.locator("#problem").inner_text()
    assert page.input_value(field) == entered
    assert page.locator("#understood").is_visible()


def test_numbers_noted_stay_when_one_of_them_cannot_be_read(page, address):
    plan_sample(page, address)
    excised = page.locator("section:has(#done) tbody tr:has-text('Excise') input").first
    taken = page.locator("section:has(#done) tbody tr:has-text('Take skin') input").first
    again = page.locator('button[name="then"][value="plan"]')
    excised.fill("100")
    taken.fill("1,869")
    again.click()
    page.wait_for_selector("#problem :text('without a mark between thousands, such as 1869')")
    assert [excised.input_value(), taken.input_value()] == ["100", "1,869"]
    taken.fill("9999")
    again.click()
    page.wait_for_selector("#problem :text('The area is larger than')")
    assert taken.input_value() == "9999"
    taken.fill("90")
    again.click()
    page.wait_for_selector("#problem", state="detached")
    assert page.locator("#plan").is_visible()


def test_a_record_that_lacks_its_weight_says_so_and_takes_one(page, address):
    open_sample(page, address, "missing-weight")
    assert "weight" in page.locator("section:has(#understood)").inner_text().lower()
    page.fill("#weight", "80")
    plan(page)
    assert compared(page)["Sessions"][0] != "0"


@pytest.mark.parametrize("sample", ["contradictory-extent", "two-patients", "wrong-units"])
def test_records_that_are_not_planned_say_why(page, address, sample):
    page.goto(address)
    page.select_option("#sample", sample)
    page.locator("form").first.locator("button").click()
    page.wait_for_selector(".problem")
    assert page.locator(".problem").first.inner_text().strip()


def test_comfort_care_gets_a_sentence_and_no_plan(page, address):
    plan_sample(page, address, "comfort-care")
    assert "comfort: no plan is made" in page.locator("section[aria-labelledby=plan]").inner_text()
    assert not page.locator("table").count()
    assert not page.locator(".maps").count()


def test_a_dropped_file_is_read(page, address):
    page.goto(address)
    page.set_input_files("#file", SAMPLES / "infant-20-percent.json")
    page.locator("form").first.locator("button").click()
    page.wait_for_selector("#understood")
    plan(page)


def test_the_command_is_copied(page, address):
    plan_sample(page, address)
    page.get_by_role("button", name="Copy").click()
    expect(page.locator("#progress")).to_contain_text("✓")
    copied = page.evaluate("navigator.clipboard.readText()")
    assert copied.startswith("curl") and "/fhir/$plan-grafts" in copied


@pytest.mark.parametrize("sample", ["adult-85-percent", "adult-60-percent-after-session-2-poor-take"])
def test_pages_are_light(page, address, sample):
    plan_sample(page, address, sample)
    assert len(page.content().encode()) < MOST_BYTES


def test_without_script_everything_but_copying_works(browser, address):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    plan_sample(page, address, "hands-and-face-12-percent")
    assert page.locator("#plan").is_visible()
    assert not page.get_by_role("button", name="Copy").is_visible()
    context.close()
