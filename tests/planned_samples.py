"""The samples as the service plans them, each planned once a run; nobody changes what is handed out."""

from __future__ import annotations

from functools import lru_cache

from service.settings import Settings
from service.wiring import PlanReply, answer_plan_request, build_parts
from tests.conftest import SAMPLES

#: Samples between them with most of what a plan can hold.
PLANNED = ("adult-60-percent-first-plan", "adult-85-percent", "infant-20-percent", "cover-stock-given")


@lru_cache
def reply_to(name: str) -> PlanReply:
    return answer_plan_request(build_parts(Settings()), (SAMPLES / f"{name}.json").read_bytes())
