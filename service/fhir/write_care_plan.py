"""CarePlan: the plan as a whole, pointing to every Task and to nothing else as activity."""

from __future__ import annotations

from collections.abc import Iterable

from service.fhir.identity import Identity
from service.fhir.narrative import write_narrative
from service.fhir.read_earlier_course import ASKED_FOR
from service.fhir.write_acts import word_variants
from service.fhir.write_frame import WHOLE_PATIENT, AnswerFrame, refer_to_answer
from service.wording.asked_for import word_asked_for
from service.wording.beside_text import ALTERNATIVES, WEIGHTS, word_alternatives, word_sensitivity
from service.wording.cautions import CAUTIONS
from service.wording.course_text import word_saved
from service.wording.proof import word_proof

CARE_PLAN = "grafting-plan"
BURN = "burn"
_WEIGHTS = {"life": "life, the largest area first", "function": "function, face and hands first"}


def identify_care_plan(frame: AnswerFrame) -> Identity:
    return frame.identify(WHOLE_PATIENT, CARE_PLAN)


def write_care_plan(frame: AnswerFrame, tasks: Iterable[Identity], forecasts: Iterable[Identity]) -> dict:
    """The draft plan. Its Tasks do not point back: what is part of a plan is not based on it."""
    plan = {
        "resourceType": "CarePlan",
        "text": write_narrative(frame),
        "identifier": [identify_care_plan(frame).identifier],
        "status": "draft",
        "intent": "proposal",
        "category": [frame.concept(f"request/{CARE_PLAN}", "Staged grafting plan")],
        "title": "Staged grafting plan",
        "subject": frame.patient,
        "period": {"start": frame.date(0), "end": frame.date(_last_day(frame))},
        "created": frame.as_of,
        "author": frame.device,
        "note": [{"text": text} for text in (
            *_write_notes(frame), *_write_asked_for(frame), *_write_saved(frame),
            *word_variants(frame.answer), *_write_beside(frame), *CAUTIONS)],
    }
    optional = {
        "addresses": frame.refer_all(key for key, profile in frame.read_result.understood if profile == BURN),
        "supportingInfo": [refer_to_answer(forecast) for forecast in forecasts],
        "activity": [{"reference": refer_to_answer(task)} for task in tasks],
    }
    return plan | {name: value for name, value in optional.items() if value}


def _last_day(frame: AnswerFrame) -> int:
    day = frame.answer.plan.closure_day
    return frame.case.horizon_day if day is None else day


def _write_notes(frame: AnswerFrame) -> list[str]:
    versions = frame.answer.versions
    return [
        word_quality(frame),
        f"Evidence {versions.evidence}, sha256 {versions.evidence_sha256}.",
        f"Preferences sha256 {versions.preferences_sha256}. "
        f"Weights favour {_WEIGHTS[frame.case.weight_set]}. "
        "Preferences are judgements that a burn team must set.",
    ]


def _write_asked_for(frame: AnswerFrame) -> list[str]:
    """The wishes of the request in one note, as the text answer lists them."""
    asked = word_asked_for(frame.answer)
    return [f"{ASKED_FOR}{' '.join(asked)}"] if asked else []


def _write_saved(frame: AnswerFrame) -> list[str]:
    saved = word_saved(frame.answer.disturbances_saved_count)
    return [saved] if saved else []


def _write_beside(frame: AnswerFrame) -> list[str]:
    """Other plans to choose from, and what other weights would change, a note each."""
    told = ((ALTERNATIVES, word_alternatives(frame.answer)), (WEIGHTS, word_sensitivity(frame.answer)))
    return [f"{title}: {' '.join(sentences)}" for title, sentences in told if sentences]


def word_quality(frame: AnswerFrame) -> str:
    """Outcome, objective and gap: how good the plan is, and what nobody has proven about it."""
    return " ".join(word_proof(frame.answer.plan))
