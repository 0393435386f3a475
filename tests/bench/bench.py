"""``make bench``: one table of what things cost, as ratios where a reference exists.

Never a test: the numbers belong to the machine and the hour they were measured in.
"""

from __future__ import annotations

import os
import platform
from datetime import date, timedelta
from functools import partial

from fhir.resources.R4B.bundle import Bundle

from service.assessment.assess import assess_case
from service.evidence.library import load_evidence
from service.fhir.json_text import dump
from service.fhir.read_case import examine_request
from service.fhir.write_plan import write_plan_bundle
from service.planning.rule_of_thumb import best_by_rule_of_thumb
from service.preferences.library import load_preferences
from service.settings import Settings
from service.wiring import answer_plan_request, build_parts
from tests import builders
from tests.bench.audit import flush_milliseconds, measure_audit
from tests.bench.memory import REQUESTS, measure_memory
from tests.bench.plans_by_band import bench_frozen_set
from tests.bench.refusals import measure_refusals
from tests.bench.simulation import COURSES, EXACT_COURSES, measure_cost, measure_quantile_error
from tests.bench.timing import median_milliseconds, paired
from tests.conftest import ANSWERED_SAMPLES, SAMPLES

ENTRIES = 100
PLAN_ROUNDS = 5


def hundred_entries() -> bytes:
    """A small record with a long history of weights: as many resources as a real stay gathers."""
    first_day = date(2025, 11, 1)
    resources = [*builders.needed(), builders.burn_wound()]
    for number in range(ENTRIES - len(resources)):
        seen = (first_day + timedelta(days=number)).isoformat()
        resources.append(builders.measured("weight", f"{70 + number / 10:.1f}", seen=seen))
    return builders.body_of(builders.bundle(*resources))


def row(name: str, value: str, note: str = "") -> None:
    print(f"{name:<46} {value:>14}  {note}")


def bench_reading() -> None:
    body = hundred_entries()
    ours, reference, ratio = paired(partial(examine_request, body), partial(Bundle.model_validate_json, body))
    row(f"read a Bundle of {ENTRIES} entries", f"{ours:.1f} ms")
    row("  bare fhir.resources parse, same bytes", f"{reference:.1f} ms", f"ratio {ratio:.2f}")


def bench_plans() -> None:
    parts = build_parts(Settings())
    for sample in ANSWERED_SAMPLES:
        body = sample.read_bytes()
        reply = answer_plan_request(parts, body)
        if reply.answer is None:
            continue
        case = assess_case(reply.read.record, reply.read.request, load_evidence(), load_preferences())
        choose = partial(best_by_rule_of_thumb, case, load_evidence(), load_preferences())
        chosen = median_milliseconds(choose, PLAN_ROUNDS)
        whole = median_milliseconds(partial(answer_plan_request, parts, body), PLAN_ROUNDS)
        row(f"plan {sample.stem}", f"{chosen:.0f} ms", f"with reading, verification, schedule {whole:.0f} ms")


def bench_writing() -> None:
    reply = answer_plan_request(build_parts(Settings()), (SAMPLES / "adult-60-percent-first-plan.json").read_bytes())
    model = Bundle.model_validate_json(dump(reply.resource))
    ours, reference, ratio = paired(
        lambda: dump(write_plan_bundle(reply.answer, reply.read, reply.settings)), model.model_dump_json)
    row("make and write an answer", f"{ours:.1f} ms")
    row("  fhir.resources dump of the same Bundle", f"{reference:.1f} ms", f"ratio {ratio:.3f}")


def bench_simulation() -> None:
    cost = measure_cost()
    row(f"{COURSES:,} simulated courses, five sessions", f"{cost.arrays_ms:.0f} ms",
        f"processor time; {cost.times_faster:.0f} times faster than the plain loop")
    row("  error of low, median and high", f"{measure_quantile_error():.2f} points",
        f"typical, against {EXACT_COURSES:,} courses")


def bench_memory() -> None:
    early, late = measure_memory()
    row("memory of the service after 10 requests", f"{early:.0f} MB")
    row(f"memory of the service after {REQUESTS:,} requests", f"{late:.0f} MB", f"{late - early:+.0f} MB")


def bench_refusals() -> None:
    for name, milliseconds, megabytes in measure_refusals():
        row(f"refuse {name}", f"{milliseconds:.1f} ms", f"{megabytes:.1f} MB beside the body")


def bench_audit() -> None:
    flush = flush_milliseconds()
    for database, milliseconds in measure_audit():
        row(f"a row of the audit trail, {database}", f"{milliseconds:.1f} ms", f"ratio {milliseconds / flush:.1f}")
    row("  flush of a page to the same disk", f"{flush:.1f} ms")


def main() -> None:
    load = ", ".join(f"{value:.1f}" for value in os.getloadavg())
    print(f"Python {platform.python_version()}, {os.cpu_count()} cores, load {load}")
    for bench in (bench_reading, bench_plans, bench_writing, bench_simulation, bench_audit, bench_refusals,
                  bench_memory, bench_frozen_set):
        bench()


if __name__ == "__main__":
    main()
