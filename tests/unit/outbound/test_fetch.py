"""A call out of the service: size, time, redirects, and what an error says."""

import gzip
from time import perf_counter, sleep

import anyio
import pytest

from service.outbound.fetch import Call, OutboundFault, fetch, make_client
from tests.loopback import answer, run_loopback

MOST_BYTES = 10_000


def call(url: str, *, seconds: float = 5, **parts) -> bytes:
    async def run() -> bytes:
        async with make_client() as client:
            return await fetch(client, Call(url, **parts), most_bytes=MOST_BYTES, seconds=seconds)
    return anyio.run(run)


def refused(respond, **options) -> str:
    with run_loopback(respond) as server, pytest.raises(OutboundFault) as fault:
        call(f"{server.address}/planted", **options)
    assert "planted" not in str(fault.value) and "127.0.0.1" not in str(fault.value)
    return str(fault.value)


def test_a_body_comes_as_it_is():
    with run_loopback(answer(b"x" * MOST_BYTES)) as server:
        assert call(server.address, headers={"Accept": "application/json"}) == b"x" * MOST_BYTES
    (_, headers), = server.asked
    assert headers["accept"] == "application/json" and headers["accept-encoding"] == "identity"
    assert "cookie" not in headers


def test_a_redirect_is_not_followed():
    with run_loopback(answer(b"secret")) as inside:
        moved = answer(b"", 302, {"Location": inside.address})
        assert refused(moved) == "answered with status 302"
    assert inside.asked == []


@pytest.mark.parametrize("status", [201, 204, 401, 404, 500])
def test_another_status_than_200_is_no_answer(status):
    assert refused(answer(b"", status)) == f"answered with status {status}"


def test_a_body_too_large_is_given_up_while_it_arrives():
    sent = 0

    def endless(request) -> None:
        nonlocal sent
        request.send_response(200)
        request.end_headers()
        while sent < 1000 * MOST_BYTES:
            request.wfile.write(b"x" * MOST_BYTES)
            sent += MOST_BYTES

    assert refused(endless) == "answered with too large a body"
    assert sent < 1000 * MOST_BYTES


def test_a_packed_body_is_not_unpacked():
    assert refused(answer(gzip.compress(b"x" * 10**6), headers={"Content-Encoding": "gzip"})).endswith("packed body")


@pytest.mark.parametrize("part", ["status", "body"])
def test_who_trickles_is_given_up_in_time(part):
    def trickle(request) -> None:
        if part == "body":
            request.send_response(200)
            request.end_headers()
        for _ in range(50):
            request.wfile.write(b"H")
            request.wfile.flush()
            sleep(0.1)

    started = perf_counter()
    assert refused(trickle, seconds=0.4) == "not answered in time"
    assert perf_counter() - started < 3


@pytest.mark.parametrize("url", ["http://127.0.0.1:1/planted", "file:///etc/passwd", "http://[bad", "ftp://127.0.0.1/"])
def test_what_cannot_be_reached_is_a_fault_of_the_same_kind(url):
    with pytest.raises(OutboundFault) as fault:
        call(url)
    assert "passwd" not in str(fault.value) and "planted" not in str(fault.value)


def test_no_proxy_is_used(monkeypatch):
    with run_loopback(answer(b"through")) as proxy, run_loopback(answer(b"direct")) as server:
        for name in ("http_proxy", "HTTP_PROXY", "ALL_PROXY"):
            monkeypatch.setenv(name, proxy.address)
        assert call(server.address) == b"direct"
    assert proxy.asked == []
