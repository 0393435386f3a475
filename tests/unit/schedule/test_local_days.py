"""Days are those of the patient: over both clock changes, in six zones, from instant to Task."""

from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

import pytest

from service.settings import Settings
from service.wiring import answer_plan_request, build_parts
from tests import builders as make

ZONES = ("Europe/Zurich", "America/New_York", "Australia/Sydney", "Asia/Kathmandu", "America/St_Johns",
         "Africa/Casablanca")
YEAR = 2026


def clock_changes(zone: str) -> list[datetime]:
    """Hours of the year in UTC at which the offset of the zone changes."""
    start = datetime(YEAR, 1, 1, tzinfo=UTC)
    hours = [start + timedelta(hours=h) for h in range(365 * 24)]
    return [after for before, after in zip(hours, hours[1:], strict=False)
            if before.astimezone(ZoneInfo(zone)).utcoffset() != after.astimezone(ZoneInfo(zone)).utcoffset()]


def moments(zone: str) -> list[datetime]:
    """Around each change of the clock, and the ends of that local day; else around a midnight."""
    found = []
    for change in clock_changes(zone) or [datetime(YEAR, 3, 29, 1, tzinfo=UTC)]:
        day = change.astimezone(ZoneInfo(zone)).date()
        midnights = [datetime(d.year, d.month, d.day, tzinfo=ZoneInfo(zone)) for d in (day, day + timedelta(days=1))]
        for edge in (change, *(m.astimezone(UTC) for m in midnights)):
            found += [edge - timedelta(minutes=1), edge]
    return found


CASES = [(zone, moment) for zone in ZONES for moment in moments(zone)]


def test_the_zones_change_their_clocks_as_they_do():
    assert {zone: len(clock_changes(zone)) for zone in ZONES} == {
        "Europe/Zurich": 2, "America/New_York": 2, "Australia/Sydney": 2, "Asia/Kathmandu": 0,
        "America/St_Johns": 2, "Africa/Casablanca": 2}


@lru_cache
def parts():
    return build_parts(Settings())


def answer(zone: str, moment: datetime, today: date):
    """The plan for one burn, hurt two days before ``today``, asked for at a moment written in UTC."""
    record = make.record(make.burn_wound())
    record["parameter"] = [p for p in record["parameter"] if p["name"] not in ("as-of", "time-zone")]
    record["parameter"] += [{"name": "as-of", "valueInstant": moment.isoformat().replace("+00:00", "Z")},
                            {"name": "time-zone", "valueString": zone}]
    body = make.body_of(record)
    for sent, days in ((make.INJURY, 2), (make.SEEN, 1)):
        body = body.replace(sent.encode(), (today - timedelta(days=days)).isoformat().encode())
    return answer_plan_request(parts(), body)


@pytest.mark.parametrize(("zone", "moment"), CASES, ids=lambda value: str(value))
def test_day_zero_is_the_local_day_and_tasks_keep_whole_days(zone, moment):
    today = moment.astimezone(ZoneInfo(zone)).date()
    reply = answer(zone, moment, today)
    made = reply.resource["entry"]
    plan = made[0]["resource"]
    assert plan["period"]["start"] == today.isoformat()
    assert datetime.fromisoformat(plan["created"]) == moment
    tasks = [e["resource"] for e in made if e["resource"]["resourceType"] == "Task"]
    windows = {
        task["code"]["coding"][0]["code"]: [
            (date.fromisoformat(end) - today).days for end in task["restriction"]["period"].values()]
        for task in reversed(tasks)
    }
    assert windows == expected_windows()


@lru_cache
def expected_windows():
    """The same burn on a day without any change of clocks."""
    quiet = datetime(YEAR, 6, 10, 12, tzinfo=UTC)
    made = answer("Etc/UTC", quiet, quiet.date()).resource["entry"]
    found = {}
    for task in reversed([e["resource"] for e in made if e["resource"]["resourceType"] == "Task"]):
        ends = task["restriction"]["period"].values()
        found[task["code"]["coding"][0]["code"]] = [(date.fromisoformat(end) - quiet.date()).days for end in ends]
    assert len(found) > 5
    return found


def test_a_day_sent_as_a_day_is_never_shifted():
    """The injury stands as it was sent on both sides of the date line."""
    for zone in ("Pacific/Kiritimati", "Pacific/Pago_Pago"):
        moment = datetime(YEAR, 3, 29, 10, 30, tzinfo=UTC)
        today = moment.astimezone(ZoneInfo(zone)).date()
        assert f"after the injury of\n{today - timedelta(days=2)}" in answer(zone, moment, today).text.replace(
            "injury of ", "injury of\n")
