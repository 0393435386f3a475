"""Keys of an issuer: which are taken, how long they are held, how often they are read."""

import json
from threading import Barrier, Thread
from time import sleep

import pytest
from joserfc.jwk import ECKey, OctKey, OKPKey, RSAKey

from service.outbound.fetch import OutboundFault
from service.tokens import key_cache
from service.tokens.key_cache import FRESH_SECONDS, REFETCH_SECONDS, STALE_SECONDS, KeyCache, read_keys
from tests.loopback import answer, run_loopback

EC, RSA = ECKey.generate_key("P-384"), RSAKey.generate_key(2048)
URL = "https://keys.example/jwks"


def public(key, key_id: str | None = "k1", **more) -> dict:
    shown = key.as_dict(private=False) | {"kid": key_id} | more
    return {name: value for name, value in shown.items() if value is not None}


def key_set(*keys: dict) -> bytes:
    return json.dumps({"keys": keys}).encode()


class Issuer:
    """What stands at an address, and how often it was read; with a clock that a test moves."""

    def __init__(self, text: bytes) -> None:
        self.text = text
        self.reads = 0
        self.now = 0.0
        self.cache = KeyCache(self._read, lambda: self.now)

    def _read(self, url: str) -> bytes:
        assert url == URL
        self.reads += 1
        if not self.text:
            raise OutboundFault("not answered in time")
        return self.text

    def holds(self, key_id: str, algorithm: str = "ES384") -> bool:
        return self.cache.find(URL, key_id, algorithm) is not None


@pytest.mark.parametrize(("key", "algorithm"), [(EC, "ES384"), (RSA, "RS384")])
@pytest.mark.parametrize("more", [{}, {"use": "sig"}, {"key_ops": ["verify"]}, {"x5t": "abc"}])
def test_keys_of_both_algorithms_are_taken(key, algorithm, more):
    assert list(read_keys(key_set(public(key, **more)))) == [("k1", algorithm)]
    assert list(read_keys(key_set(public(key, alg=algorithm, **more)))) == [("k1", algorithm)]


@pytest.mark.parametrize("sent", [
    public(EC, None), public(EC, use="enc"), public(EC, alg="ES256"),
    public(EC, alg="RS384"), public(EC, key_ops=["sign"]), public(ECKey.generate_key("P-256")),
    public(RSAKey.generate_key(1024)), public(OKPKey.generate_key("Ed25519")), EC.as_dict(private=True, kid="k1"),
    OctKey.generate_key(384).as_dict(kid="k1"), public(EC) | {"kid": 7}, public(EC) | {"x": "!"},
    public(EC) | {"kty": "RSA"}, public(EC) | {"kty": ["EC"]}, public(RSA) | {"n": ""}, {}, "text", None, 7])
def test_a_key_that_cannot_be_used_is_left_out(sent):
    good = public(RSA, "good")
    assert list(read_keys(key_set(sent, good))) == [("good", "RS384")]


def test_two_keys_of_one_id_are_none():
    other = public(ECKey.generate_key("P-384"))
    assert read_keys(key_set(public(EC), other)) == {}
    assert set(read_keys(key_set(public(EC), public(RSA)))) == {("k1", "ES384"), ("k1", "RS384")}


@pytest.mark.parametrize("text", [
    b"", b"{}", b"[]", b"null", b'{"keys": {}}', b'{"keys": null}', b"\xff", b"[" * 100_000,
    key_set(*[public(EC)] * 51)])
def test_what_is_no_key_set_is_refused(text):
    with pytest.raises(ValueError, match="key"):
        read_keys(text)


def test_a_key_is_read_once_while_it_is_fresh():
    issuer = Issuer(key_set(public(EC)))
    assert issuer.holds("k1") and issuer.holds("k1")
    issuer.now = FRESH_SECONDS
    assert issuer.holds("k1") and issuer.reads == 1
    issuer.now = FRESH_SECONDS + 1
    assert issuer.holds("k1") and issuer.reads == 2


def test_a_new_key_is_found_and_an_old_one_gone_after_rotation():
    issuer = Issuer(key_set(public(EC)))
    assert issuer.holds("k1")
    issuer.text = key_set(public(ECKey.generate_key("P-384"), "k2"))
    issuer.now = REFETCH_SECONDS
    assert issuer.holds("k2") and not issuer.holds("k1")


def test_made_up_key_ids_do_not_become_calls():
    issuer = Issuer(key_set(public(EC)))
    assert issuer.holds("k1")
    assert not any(issuer.holds(f"made-up-{n}") for n in range(100)) and issuer.reads == 1
    issuer.now = REFETCH_SECONDS
    assert not any(issuer.holds(f"made-up-{n}") for n in range(100)) and issuer.reads == 2


def test_an_issuer_that_is_down_is_not_asked_all_the_time():
    issuer = Issuer(b"")
    assert not any(issuer.holds("k1") for _ in range(10)) and issuer.reads == 1
    issuer.text, issuer.now = key_set(public(EC)), REFETCH_SECONDS
    assert issuer.holds("k1")


@pytest.mark.parametrize("broken", [b"", b"planted no key set"])
def test_keys_outlive_an_outage_for_a_while_and_no_longer(broken, caplog):
    issuer = Issuer(key_set(public(EC)))
    assert issuer.holds("k1")
    issuer.text, issuer.now = broken, STALE_SECONDS
    assert issuer.holds("k1")
    issuer.now = STALE_SECONDS + REFETCH_SECONDS
    assert not issuer.holds("k1")
    assert "keys of an issuer could not be read" in caplog.text
    assert "planted" not in caplog.text and "keys.example" not in caplog.text


def test_many_callers_at_once_are_one_call():
    issuer, together = Issuer(key_set(public(EC))), Barrier(8)
    read, found = issuer._read, []

    def slow_read(url: str) -> bytes:
        sleep(0.05)
        return read(url)

    issuer.cache = KeyCache(slow_read, lambda: issuer.now)

    def ask() -> None:
        together.wait()
        found.append(issuer.holds("k1"))

    callers = [Thread(target=ask) for _ in range(8)]
    for caller in callers:
        caller.start()
    for caller in callers:
        caller.join()
    assert found == [True] * 8 and issuer.reads == 1


@pytest.mark.parametrize("respond", [
    answer(key_set(public(EC)), 302, {"Location": "/elsewhere"}), answer(key_set(public(EC)), 404),
    answer(key_set(public(EC)) + b" " * key_cache.MOST_BYTES)])
def test_an_address_that_redirects_fails_or_says_too_much_gives_no_key(respond):
    with run_loopback(respond) as server:
        assert KeyCache().find(f"{server.address}/jwks", "k1", "ES384") is None
    assert len(server.asked) == 1


def test_an_address_that_takes_too_long_gives_no_key(monkeypatch):
    monkeypatch.setattr(key_cache, "FETCH_SECONDS", 0.2)

    def slow(request) -> None:
        sleep(1)
        answer(key_set(public(EC)))(request)

    with run_loopback(slow) as server:
        assert KeyCache().find(server.address, "k1", "ES384") is None


def test_keys_come_from_a_file_and_a_lost_file_gives_none(tmp_path, caplog):
    file = tmp_path / "planted keys.json"
    file.write_bytes(key_set(public(EC)))
    assert KeyCache().find(f"file://{file}", "k1", "ES384").thumbprint() == EC.thumbprint()
    file.write_bytes(key_set(public(EC)) + b" " * key_cache.MOST_BYTES)
    assert KeyCache().find(f"file://{file}", "k1", "ES384")
    file.unlink()
    assert KeyCache().find(f"file://{file}", "k1", "ES384") is None
    assert KeyCache().find(f"file://{tmp_path}", "k1", "ES384") is None
    assert "cannot be read" in caplog.text and "planted" not in caplog.text


def test_keys_come_from_a_real_address():
    with run_loopback(answer(key_set(public(EC)))) as server:
        assert KeyCache().find(server.address, "k1", "ES384").thumbprint() == EC.thumbprint()
