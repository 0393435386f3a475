"""Dates keep their day; instants fall on the day of the patient's time zone."""

from datetime import date
from zoneinfo import ZoneInfo

import pytest

from service.domain.patient import BirthDate
from service.fhir.moments import read_birth_date, read_moment
from service.fhir.read_log import ReadLog

ZURICH = ZoneInfo("Europe/Zurich")
APIA = ZoneInfo("Pacific/Apia")


@pytest.mark.parametrize(("text", "zone", "day"), [
    ("2026-03-03", ZURICH, date(2026, 3, 3)),
    ("2026-03-03", APIA, date(2026, 3, 3)),
    ("2026-03-03T23:30:00Z", ZURICH, date(2026, 3, 4)),
    ("2026-03-03T23:30:00Z", APIA, date(2026, 3, 4)),
    ("2026-03-03T00:10:00+02:00", ZURICH, date(2026, 3, 2)),
    ("2026-03-29T02:30:00+01:00", ZURICH, date(2026, 3, 29)),
    ("2026-06-30T23:59:60Z", ZURICH, date(2026, 7, 1)),
    ("2026-03-03T10:30:00.123+01:00", ZURICH, date(2026, 3, 3)),
])
def test_the_day_of_a_moment(text, zone, day):
    log = ReadLog()
    assert read_moment(text, "effective", zone, log).day == day
    assert log.faults == []


@pytest.mark.parametrize(("text", "error_id"), [
    ("2026-02-30", "date-invalid"),
    ("2026-13-01", "date-invalid"),
    ("3.3.2026", "date-invalid"),
    ("2026-03-03T24:00:00Z", "date-invalid"),
    ("2026-03-03T10:30:00+14:30", "date-invalid"),
    ("2026-03-03T10:30:00", "time-without-zone"),
    ("2026-03", "day-needed"),
    ("2026", "day-needed"),
    (20260303, "not-a-text"),
])
def test_what_is_refused(text, error_id):
    log = ReadLog()
    assert read_moment(text, "effective", ZURICH, log) is None
    assert [fault.error_id for fault in log.faults] == [error_id]


@pytest.mark.parametrize(("text", "birth"), [
    ("1986", BirthDate(1986)), ("1986-05", BirthDate(1986, 5)), ("1986-05-17", BirthDate(1986, 5, 17)),
])
def test_a_birth_date_keeps_its_precision(text, birth):
    assert read_birth_date(text, "birthDate", ReadLog()) == birth


@pytest.mark.parametrize("text", ["1986-13", "1986-02-30", "1986-05-17T10:00:00Z", "86"])
def test_a_birth_date_that_is_none(text):
    log = ReadLog()
    assert read_birth_date(text, "birthDate", log) is None
    assert [fault.error_id for fault in log.faults] == ["date-invalid"]
