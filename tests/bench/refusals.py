"""What a refusal costs: processor time and memory for bodies at and beyond every limit, in this process.

Peak memory is what the refusal allocates beside the body itself.
"""

from __future__ import annotations

import asyncio
import gzip
import tracemalloc
import zlib
from collections.abc import Callable, Iterator
from statistics import median
from time import process_time

from starlette.requests import Request
from starlette.types import ASGIApp

from service.api.app import create_app
from service.api.request_body import read_body
from service.api.transport_faults import TransportFault
from service.domain.errors import InvalidCase
from service.fhir.json_text import MOST_BYTES
from service.fhir.read_case import examine_request, read_request
from service.settings import Settings
from tests import builders as make
from tests.bad_input.syntax_lines import DEEP, TEN_THOUSAND_ONE, many_wounds, nested_extension

ROUNDS = 7
FHIR = (b"content-type", b"application/fhir+json")
WOUND = make.burn_wound()


def refusal_bodies() -> Iterator[tuple[str, bytes]]:
    """A body for each limit of the reader."""
    yield "body larger than the cap", b" " * (MOST_BYTES + 1)
    yield "10,001 entries", TEN_THOUSAND_ONE
    yield "100,000 nested arrays", DEEP
    yield "8 MB of opening brackets", b"[" * 7_999_999
    yield "extension 60 deep", make.body_of(make.record(WOUND | {"extension": nested_extension(60)}))
    yield "text of 5 MB", make.body_of(make.record(WOUND | {"note": [{"text": "x" * 5_000_000}]}))
    yield "1,000 extensions", make.body_of(make.record(
        WOUND | {"extension": [{"url": "https://record.example/e", "valueInteger": 1}] * 1000}))
    yield "more than 200 wounds", many_wounds()
    yield "integer of 4,000,000 digits", b'{"a":' + b"9" * 4_000_000 + b"}"
    yield "key of 4 MB twice", b'{"' + b"k" * 3_000_000 + b'":1,"' + b"k" * 3_000_000 + b'":2}'
    yield "2,600,000 empty entries", TEN_THOUSAND_ONE.replace(b"{}]}", b"{}," * 2_600_000 + b"{}]}")
    yield "8 MB of quotation marks", b'"' * 7_999_999


def spaces_in_gzip(megabytes: int) -> bytes:
    packer = zlib.compressobj(wbits=31)
    return b"".join(packer.compress(b" " * 1_000_000) for _ in range(megabytes)) + packer.flush()


def refuse_by_reader(body: bytes) -> None:
    try:
        read_request(body)
    except InvalidCase:
        return
    raise AssertionError("not refused")


def refuse_by_transport(app: ASGIApp, headers: tuple, chunks: list[bytes]) -> Callable[[], None]:
    """Reading a body off the wire until it is refused."""
    scope = {
        "type": "http", "method": "POST", "path": "/", "query_string": b"", "headers": [FHIR, *headers], "app": app}

    def refuse() -> None:
        waiting = iter(chunks)

        async def receive() -> dict:
            return {"type": "http.request", "body": next(waiting), "more_body": True}

        try:
            asyncio.run(read_body(Request(scope, receive)))
        except TransportFault:
            return
        raise AssertionError("not refused")
    return refuse


def cost_of(refuse: Callable[[], None]) -> tuple[float, float]:
    """Median processor time [ms], and peak of what is allocated [MB]."""
    refuse()
    times = []
    for _ in range(ROUNDS):
        started = process_time()
        refuse()
        times.append(1000 * (process_time() - started))
    tracemalloc.start()
    refuse()
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    return median(times), peak


def measure_refusals() -> Iterator[tuple[str, float, float]]:
    """What is refused, processor time [ms], peak memory beside the body [MB]."""
    examine_request(make.body_of(make.record(WOUND)))
    app, megabyte = create_app(Settings()), b" " * 1_000_000
    yield "Content-Length over the cap", *cost_of(refuse_by_transport(app, ((b"content-length", b"99000000"),), []))
    yield "chunks past the cap", *cost_of(refuse_by_transport(app, (), [megabyte] * 10))
    packed = ((b"content-encoding", b"gzip"),)
    yield "gzip of 1 GB", *cost_of(refuse_by_transport(app, packed, [spaces_in_gzip(1_000)]))
    yield "gzip inside gzip", *cost_of(refuse_by_transport(app, packed, [gzip.compress(megabyte) + b"x"]))
    for name, body in refusal_bodies():
        yield name, *cost_of(lambda body=body: refuse_by_reader(body))
