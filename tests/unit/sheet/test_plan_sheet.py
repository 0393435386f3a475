"""The sheet shows what the answer says: every figure, every place, every side, in HTML and on paper."""

import re
from dataclasses import replace
from decimal import Decimal
from html import unescape
from io import BytesIO
from xml.etree import ElementTree

import pytest
from pypdf import PdfReader

from service.domain.answer import PlanAnswer
from service.sheet.render import PAPERS, write_course_svg, write_sheet_html, write_sheet_pdf
from service.wording.cautions import CAUTIONS
from service.wording.dates import date_in_words
from service.wording.languages import languages
from service.wording.places import surface_in_words
from service.wording.rounding import need_cm2
from tests.planned_samples import PLANNED, reply_to

ENGLISH = languages()["en"]


def html_of(name: str) -> str:
    reply = reply_to(name)
    return write_sheet_html(reply.answer, reply.sha256, ENGLISH)


def text_of(html: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", " ", html)))


def section_of(html: str, name: str) -> str:
    return html.split(f'id="{name}"')[1].split("</section>")[0]


def planned_acts(answer: PlanAnswer, day: int):
    """Place and area of each harvest and graft of a day, wounds over and beside a joint apart."""
    wounds = {w.wound_id: w.place for w in answer.case.wounds}
    sites = {s.site_id: s.place for s in answer.case.donor_sites}
    plan = answer.plan.settled
    for harvest in plan.harvests:
        if harvest.day == day:
            yield sites[harvest.site_id], harvest.area_cm2
    for graft in plan.placements:
        if graft.day == day:
            yield wounds[graft.wound_id], graft.area_cm2


@pytest.mark.parametrize("name", PLANNED)
def test_each_session_page_shows_the_date_and_every_act_with_its_area(name):
    answer, html = reply_to(name).answer, html_of(name)
    for session in answer.plan.settled.sessions:
        page = text_of(section_of(html, f"session-{session.ordinal}"))
        assert date_in_words(answer.case.date_of(session.day)) in page
        for place, _ in planned_acts(answer, session.day):
            assert surface_in_words(place) in page


@pytest.mark.parametrize("name", PLANNED)
def test_the_areas_of_a_page_add_up_to_those_of_the_plan(name):
    """Rounding is up, so each printed sum lies above the planned one by less than 1 cm² a row."""
    answer, html = reply_to(name).answer, html_of(name)
    for session in answer.plan.settled.firm_sessions:
        page = section_of(html, f"session-{session.ordinal}")
        table = page.split("<caption>Graft</caption>")[1].split("</table>")[0]
        printed = [
            Decimal(re.sub(r"[^\d]", "", row.split('class="number">')[1].split(" cm")[0]))
            for row in table.split("<tbody>")[1].split("<tr>")[1:] if ">All<" not in row]
        planned = sum(p.area_cm2 for p in answer.plan.settled.placements if p.day == session.day and not p.is_regraft)
        assert planned <= sum(printed) < planned + len(printed)


@pytest.mark.parametrize("name", PLANNED)
def test_the_page_says_what_it_is_based_on_and_how_long_it_holds(name):
    reply, text = reply_to(name), text_of(html_of(name))
    assert reply.sha256[:12] in text
    assert "Draft proposal for review by a clinician" in text
    assert "do not use after that day" in text
    assert all(re.sub(r"\s+", " ", caution) in text for caution in CAUTIONS)
    for wound in reply.answer.case.wounds:
        assert surface_in_words(wound.place) in text


def test_what_stays_open_is_said_in_both_units():
    answer, text = reply_to("adult-85-percent").answer, text_of(html_of("adult-85-percent"))
    for still in answer.plan.settled.still_open:
        assert re.search(rf"{need_cm2(still.area_cm2)} \([\d.]+ %TBSA\)", text)


@pytest.mark.parametrize("name", PLANNED)
def test_ids_are_unique_and_every_drawing_has_words(name):
    html = html_of(name)
    ids = re.findall(r' id="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    assert html.count('role="img"') == html.count('class="body-map"') + html.count('class="chart"')
    assert html.count("aria-hidden") == html.count('class="body-map"')


@pytest.mark.parametrize("name", ["infant-20-percent", "adult-60-percent-first-plan"])
@pytest.mark.parametrize("paper", PAPERS)
def test_on_paper_each_session_has_one_page(name, paper):
    reply = reply_to(name)
    reader = PdfReader(BytesIO(write_sheet_pdf(reply.answer, reply.sha256, ENGLISH, paper)))
    pages = [page.extract_text() for page in reader.pages]
    for session in reply.answer.plan.settled.sessions:
        title = f"ession {session.ordinal}: {date_in_words(reply.answer.case.date_of(session.day))}"
        holding = [number for number, text in enumerate(pages) if title in text.replace("\n", " ")]
        assert len(holding) == 1
        following = pages[holding[0] + 1].replace("\n", " ")
        assert re.match(r".*?(ession \d+:|Ward calendar)", following[:120])
    assert all(reply.sha256[:12] in text for text in pages)


def test_an_unknown_paper_is_refused():
    reply = reply_to("infant-20-percent")
    with pytest.raises(ValueError, match="paper"):
        write_sheet_pdf(reply.answer, reply.sha256, ENGLISH, "wallpaper")


def test_the_course_alone_is_one_drawing_that_parses():
    reply = reply_to("adult-60-percent-first-plan")
    drawing = ElementTree.fromstring(write_course_svg(reply.answer, reply.sha256, ENGLISH))
    assert drawing.tag.endswith("svg")
    words = " ".join(drawing.itertext())
    assert reply.sha256[:12] in words
    assert "Draft proposal" in words


def test_the_same_answer_gives_the_same_bytes():
    assert html_of("infant-20-percent") == html_of("infant-20-percent")
    reply = reply_to("infant-20-percent")
    assert write_course_svg(reply.answer, reply.sha256, ENGLISH) == write_course_svg(
        reply.answer, reply.sha256, ENGLISH)


@pytest.mark.parametrize("name", PLANNED)
def test_no_person_is_named(name):
    record = reply_to(name).answer.case.record
    assert record.patient.key not in html_of(name)


def test_a_refused_plan_has_a_sheet_without_sessions():
    reply = reply_to("comfort-care")
    if reply.answer is not None:
        assert "Session 1" not in write_sheet_html(reply.answer, reply.sha256, ENGLISH)


@pytest.mark.parametrize("name", PLANNED)
def test_no_two_rows_of_a_session_read_the_same(name):
    html = html_of(name)
    for session in reply_to(name).answer.plan.settled.sessions:
        for table in section_of(html, f"session-{session.ordinal}").split("<caption>")[1:]:
            read = re.findall(r'<th scope="row">(.*?)</th>(?:<td>(.*?)</td>)?', table.split("</table>")[0])
            assert len(read) == len(set(read))


def test_a_course_that_leaves_wounds_open_does_not_show_the_last_one_closed():
    assert "Last grafted wound closed" in html_of("adult-85-percent")
    assert ">Last wound closed<" not in html_of("adult-85-percent").split('id="understood"')[0].split("<table")[0]


def test_a_wound_that_closed_before_the_plan_is_not_drawn():
    """No row without a mark: what closed in the past is history."""
    answer = reply_to("adult-60-percent-first-plan").answer
    last = max(answer.plan.closures, key=lambda closure: closure.day or 0)
    past = replace(last, day=-1, low_day=-2, high_day=0)
    changed = replace(answer, plan=replace(answer.plan, closures=(past, last)))
    assert "First wound closed" in write_course_svg(answer, "0" * 64, ENGLISH)
    assert "First wound closed" not in write_course_svg(changed, "0" * 64, ENGLISH)
