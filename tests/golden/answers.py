"""Golden answers: every sample as text, the checksum of its Bundle, and what the README shows of one."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

from service.domain.errors import InvalidCase
from service.fhir.json_text import dump
from service.fhir.operation_outcome import write_fault_outcome
from service.fhir.read_text import word_fault
from service.settings import Settings
from service.wiring import PlanReply, answer_plan_request, build_parts
from tests.conftest import ROOT, SAMPLES

FOLDER = Path(__file__).parent
CHECKSUMS = FOLDER / "SHA256SUMS"
README = ROOT / "README.md"
README_SAMPLE = "hands-and-face-12-percent"
#: The README shows the plan up to here, then one Task of the Bundle.
README_ENDS_BEFORE = "Session 2"
TEXT_MARK, TASK_MARK = "<!-- answer: text -->\n```\n", "<!-- answer: task -->\n```json\n"
SAMPLE_NAMES = tuple(sorted(path.stem for path in SAMPLES.glob("*.json")))


@dataclass(frozen=True)
class Refusal:
    """The answer to a sample that is refused, in the two forms that every answer has."""

    resource: dict
    text: str


@lru_cache
def reply_to(sample: str) -> PlanReply | Refusal:
    try:
        return _plan(sample)
    except InvalidCase as refused:
        outcome = write_fault_outcome(refused.faults, Settings().canonical_base)
        return Refusal(outcome, "".join(f"{word_fault(fault)}\n" for fault in refused.faults))


def _plan(sample: str) -> PlanReply:
    return answer_plan_request(build_parts(Settings()), (SAMPLES / f"{sample}.json").read_bytes())


def golden_text(sample: str) -> Path:
    return FOLDER / f"{sample}.txt"


def checksums() -> str:
    """One line a sample, as ``sha256sum`` writes it."""
    return "".join(f"{sha256(dump(reply_to(s).resource)).hexdigest()}  {s}\n" for s in SAMPLE_NAMES)


def readme_text() -> str:
    """The README with the answers of today in their places."""
    reply = reply_to(README_SAMPLE)
    tasks = (e["resource"] for e in reply.resource["entry"] if e["resource"]["resourceType"] == "Task")
    harvest = next(task for task in tasks if task["code"]["coding"][0]["code"] == "harvest-skin")
    text = reply.text[: reply.text.index(README_ENDS_BEFORE)].rstrip()
    shown = _replace_block(README.read_text(encoding="utf-8"), TEXT_MARK, text)
    return _replace_block(shown, TASK_MARK, dump(harvest, indent=True).decode())


def _replace_block(page: str, mark: str, content: str) -> str:
    before, rest = page.split(mark)
    return f"{before}{mark}{content}\n```{rest.split('```', 1)[1]}"
