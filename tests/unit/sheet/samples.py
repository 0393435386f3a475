"""Planned samples for the tests of the sheet, each planned once."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from service.settings import Settings
from service.wiring import PlanReply, answer_plan_request, build_parts

SAMPLES = Path("shared/samples")
PLANNED = ("adult-60-percent-first-plan", "adult-85-percent", "infant-20-percent", "cover-stock-given")


@lru_cache
def plan_sample(name: str) -> PlanReply:
    return answer_plan_request(build_parts(Settings()), (SAMPLES / f"{name}.json").read_bytes())
