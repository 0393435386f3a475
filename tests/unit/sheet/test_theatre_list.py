"""The theatre list shows the whole session, and its filled fields become what was done."""

from datetime import date
from decimal import Decimal
from html import unescape
from io import BytesIO

import pytest
from pypdf import PdfReader

from service.domain.body_region import Place, Region, Side, Surface
from service.domain.done_session import DoneAct, DoneKind
from service.domain.graft import GraftMethod
from service.evidence.library import load_evidence
from service.sheet.done_form import DoneFault, read_done_form, word_done_fault
from service.sheet.render import write_list_html, write_list_pdf
from service.sheet.theatre_list_page import done_fields
from service.sheet.typed_number import read_typed_number
from service.wording.languages import Words, languages
from service.wording.theatre_list import word_preparation, word_step
from tests.planned_samples import PLANNED, reply_to

ENGLISH = languages()["en"]
DAY = date(2026, 3, 5)


def sessions():
    return [(name, s.ordinal) for name in PLANNED for s in reply_to(name).answer.plan.settled.sessions]


@pytest.mark.parametrize("name, ordinal", sessions())
def test_every_step_rule_and_act_of_a_session_stands_on_its_list(name, ordinal):
    reply = reply_to(name)
    answer = reply.answer
    html = unescape(write_list_html(answer, ordinal, reply.sha256, ENGLISH))
    listed = next(t for t in answer.theatre_lists if t.session == ordinal)
    session = next(s for s in answer.plan.settled.sessions if s.ordinal == ordinal)
    assert all(word_step(step) in html for step in listed.steps)
    assert all(word_preparation(code, load_evidence()) in html for code in listed.preparation)
    assert f"{session.blood_loss_ml:,} mL" in html
    assert html.count('class="box"') >= len(listed.steps)
    for field in done_fields(answer, session):
        assert field.place in html and field.planned in html


@pytest.mark.parametrize("name, ordinal", sessions())
def test_a_list_filled_in_as_planned_is_the_planned_session(name, ordinal):
    answer = reply_to(name).answer
    session = next(s for s in answer.plan.settled.sessions if s.ordinal == ordinal)
    fields = list(done_fields(answer, session))
    done = read_done_form({field.name: field.planned.removesuffix(" cm²").replace(",", "") for field in fields}, DAY)
    assert len(done.acts) == len(fields)
    plan = answer.plan.settled
    for kind, acts in ((DoneKind.HARVEST, plan.harvests), (DoneKind.PLACEMENT, plan.placements)):
        planned = sum(act.area_cm2 for act in acts if act.day == session.day)
        noted = [act.area_cm2 for act in done.acts if act.kind is kind]
        assert planned <= sum(noted) < planned + len(noted) + 1


def test_numbers_are_read_with_thickness_and_a_comma():
    done = read_done_form({
        "skin-harvest:left-buttock:thin": " 120,5 ", "skin-harvest:left-buttock:thin:mm": "0.2",
        "graft-placement:left-hand-back:sheet": "90", "wound-excision:left-hand-back": ""}, DAY)
    assert done.acts == (
        DoneAct(DoneKind.HARVEST, Place(Region.BUTTOCK, Side.LEFT, Surface.BACK), Decimal("120.5"),
                thickness_mm=Decimal("0.2")),
        DoneAct(DoneKind.PLACEMENT, Place(Region.HAND, Side.LEFT, Surface.BACK), Decimal(90), GraftMethod.SHEET))


@pytest.mark.parametrize("fields, field, code", [
    ({}, "", "nothing-noted"),
    ({"skin-harvest:left-buttock:thin": " "}, "", "nothing-noted"),
    ({"skin-harvest:left-buttock:thin": "much"}, "skin-harvest:left-buttock:thin", "not-a-number"),
    ({"skin-harvest:left-buttock:thin": "NaN"}, "skin-harvest:left-buttock:thin", "not-a-number"),
    ({"skin-harvest:left-buttock:thin": "1,869"}, "skin-harvest:left-buttock:thin", "grouped-thousands"),
    ({"skin-harvest:left-buttock:thin": "1.869"}, "skin-harvest:left-buttock:thin", "grouped-thousands"),
    ({"skin-harvest:left-buttock:thin": "-4"}, "skin-harvest:left-buttock:thin", "not-positive"),
    ({"skin-harvest:left-buttock:thin": "0"}, "skin-harvest:left-buttock:thin", "not-positive"),
    ({"skin-harvest:left-buttock:thin:mm": "0.2"}, "skin-harvest:left-buttock:thin:mm", "thickness-without-area"),
    ({"skin-harvest:left-wing": "4"}, "skin-harvest:left-wing", "field-unknown"),
    ({"graft-placement:left-hand-back:island-1-4": "4"}, "graft-placement:left-hand-back:island-1-4", "field-unknown"),
    ({"graft-placement:left-hand-back": "4"}, "graft-placement:left-hand-back", "field-unknown"),
    ({"dance": "4"}, "dance", "field-unknown"),
])
def test_what_cannot_be_read_is_named_by_its_field_and_never_repeated(fields, field, code):
    with pytest.raises(DoneFault) as fault:
        read_done_form(fields, DAY)
    assert (fault.value.field, fault.value.code) == (field, code)


@pytest.mark.parametrize("code, said", [
    ("en", "Take skin, left buttock: write the number without a mark between thousands, such as 1869."),
    ("de", "Haut entnehmen, Gesäß links: die Zahl ohne Tausendertrennzeichen schreiben, etwa 1869."),
])
def test_what_cannot_be_read_is_told_by_act_and_place(code, said):
    fault = DoneFault("skin-harvest:left-buttock:thin", "grouped-thousands")
    assert word_done_fault(fault, Words(languages()[code])) == said
    assert "form" in word_done_fault(DoneFault("dance", "field-unknown"), Words(languages()["en"]))


@pytest.mark.parametrize("text, number", [("0.254", "0.254"), ("12,5", "12.5"), ("1869", "1869"), ("1869,5", "1869.5")])
def test_three_digits_after_a_zero_or_many_digits_are_no_thousands(text, number):
    assert read_typed_number(text) == Decimal(number)


def test_a_list_prints_on_two_sheets_and_a_session_that_is_not_there_is_refused():
    reply = reply_to("adult-60-percent-first-plan")
    reader = PdfReader(BytesIO(write_list_pdf(reply.answer, 2, reply.sha256, ENGLISH)))
    assert len(reader.pages) == 2
    with pytest.raises(KeyError):
        write_list_html(reply.answer, 99, reply.sha256, ENGLISH)
