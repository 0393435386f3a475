"""One token against its policy: the edges of time, and what a broken or hostile text does."""

import base64
import json
from datetime import UTC, datetime
from time import perf_counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from joserfc import jwt
from joserfc.jwk import ECKey, RSAKey

from service.domain.errors import StorageFault
from service.settings import TrustedIssuer
from service.tokens.key_cache import KeyCache
from service.tokens.refusal import Reason, TokenRefused
from service.tokens.signing import MOST_TOKEN_TEXT, REGISTRY
from service.tokens.verify import SKEW_SECONDS, TokenVerifier, access_policy, hook_policy

KEYS = {"ES384": ECKey.generate_key("P-384", {"kid": "es"}), "RS384": RSAKey.generate_key(2048, {"kid": "rs"})}
ISSUER = TrustedIssuer("https://login.example", ("https://login.example/keys",))
AUDIENCE, NOW, LONGEST = "https://plans.example/fhir", 1_800_000_000, 3_600
ACCESS, HOOK = access_policy((ISSUER,), LONGEST), hook_policy((ISSUER,), LONGEST)
KEY_SET = json.dumps({"keys": [key.as_dict(private=False) for key in KEYS.values()]}).encode()


class Seen:
    """Used tokens, in memory."""

    def __init__(self) -> None:
        self.held: dict[tuple[str, str], datetime] = {}

    def remember(self, issuer: str, token_id: str, *, expires_at: datetime, now: datetime) -> bool:
        is_first = (issuer, token_id) not in self.held
        self.held.setdefault((issuer, token_id), expires_at)
        return is_first


@pytest.fixture
def seen():
    return Seen()


@pytest.fixture
def verifier(seen):
    return TokenVerifier(KeyCache(lambda _: KEY_SET), seen)


def token(algorithm: str = "ES384", header: dict | None = None, **claims: object) -> str:
    whole = {"iss": ISSUER.name, "aud": AUDIENCE, "iat": NOW, "exp": NOW + 300, "jti": "one"} | claims
    whole = {name: value for name, value in whole.items() if value is not None}
    head = {"alg": algorithm, "kid": algorithm[:2].lower()} | (header or {})
    return jwt.encode(head, whole, KEYS[algorithm], registry=REGISTRY)


def reason(verifier, text: str, policy=ACCESS, now: float = NOW) -> str:
    """Why a token is refused; empty when it is not."""
    try:
        verifier.verify(text, policy, AUDIENCE, now=now)
    except TokenRefused as refused:
        return refused.reason
    return ""


@pytest.mark.parametrize("algorithm", KEYS)
def test_a_good_token_gives_its_claims(verifier, algorithm):
    claims = verifier.verify(token(algorithm, scope="system/*.rs"), ACCESS, AUDIENCE, now=NOW)
    assert claims["scope"] == "system/*.rs"


@pytest.mark.parametrize(("claims", "last"), [({"exp": NOW}, SKEW_SECONDS), ({"exp": NOW + 10}, SKEW_SECONDS + 10)])
def test_a_token_ends_to_the_second(verifier, claims, last):
    text = token(**claims)
    assert reason(verifier, text, now=NOW + last - 1) == ""
    assert reason(verifier, text, now=NOW + last) == Reason.EXPIRED
    assert reason(verifier, text, now=NOW + last + 1) == Reason.EXPIRED


@pytest.mark.parametrize("claim", ["iat", "nbf"])
def test_a_token_begins_to_the_second(verifier, claim):
    assert reason(verifier, token(**{claim: NOW + SKEW_SECONDS})) == ""
    assert reason(verifier, token(**{claim: NOW + SKEW_SECONDS + 1})) == Reason.TIMES


@pytest.mark.parametrize("issued", [NOW, None])
def test_a_life_may_be_as_long_as_the_setting_and_no_longer(verifier, issued):
    assert reason(verifier, token(iat=issued, exp=NOW + LONGEST)) == ""
    assert reason(verifier, token(iat=issued, exp=NOW + LONGEST + 1)) == Reason.LIFETIME


def test_a_long_life_is_not_shortened_by_waiting(verifier):
    text = token(iat=NOW - 2 * LONGEST, exp=NOW + 10)
    assert reason(verifier, text) == Reason.LIFETIME


@pytest.mark.parametrize(("claims", "why"), [
    ({"exp": None}, Reason.CLAIM_MISSING), ({"exp": "soon"}, Reason.TIMES), ({"exp": True}, Reason.TIMES),
    ({"exp": 10**400}, Reason.LIFETIME), ({"iat": -(10**400)}, Reason.LIFETIME), ({"iat": []}, Reason.TIMES),
    ({"aud": None}, Reason.CLAIM_MISSING), ({"aud": [7, AUDIENCE]}, Reason.AUDIENCE), ({"aud": {}}, Reason.AUDIENCE),
    ({"iss": None}, Reason.ISSUER), ({"iss": [ISSUER.name]}, Reason.ISSUER),
    ({"iss": f"{ISSUER.name}/"}, Reason.ISSUER),
])
def test_a_claim_that_is_not_what_it_should_be(verifier, claims, why):
    assert reason(verifier, token(**claims)) == why


@pytest.mark.parametrize(("claims", "header"), [
    ({"jti": None}, {}), ({"iat": None}, {}), ({"jti": ""}, {}), ({"jti": 7}, {}), ({"jti": "x" * 257}, {}),
    ({}, {"typ": "at+jwt"}), ({}, {"typ": "JOSE"})])
def test_a_hook_needs_more_than_an_access_token(verifier, claims, header):
    assert reason(verifier, token(header=header, **claims), HOOK) in (
        Reason.CLAIM_MISSING, Reason.TIMES, Reason.TYPE)


@pytest.mark.parametrize("kind", ["at+jwt", "AT+JWT", "application/at+jwt", "JWT"])
def test_an_access_token_may_say_what_it_is(verifier, kind):
    assert reason(verifier, token(header={"typ": kind}, jti=None, iat=None)) == ""


def test_a_used_token_is_held_until_it_is_refused_anyway(verifier, seen):
    assert reason(verifier, token(), HOOK) == ""
    assert reason(verifier, token(), HOOK) == Reason.USED_BEFORE
    assert seen.held == {(ISSUER.name, "one"): datetime.fromtimestamp(NOW + 300 + SKEW_SECONDS, UTC)}
    assert reason(verifier, token(), ACCESS) == "" and len(seen.held) == 1


def test_where_used_tokens_cannot_be_known_none_is_let_in(verifier, monkeypatch, seen):
    def lost(*_: object, **__: object) -> bool:
        raise StorageFault("the database failed")

    monkeypatch.setattr(seen, "remember", lost)
    with pytest.raises(StorageFault):
        verifier.verify(token(), HOOK, AUDIENCE, now=NOW)


@pytest.mark.parametrize("part", [0, 1, 2])
def test_a_changed_part_is_noticed(verifier, part):
    parts = token().split(".")
    other = token(sub="another").split(".") if part != 0 else token("RS384").split(".")
    parts[part] = other[part]
    assert reason(verifier, ".".join(parts)) == Reason.SIGNATURE


def encoded(value: object) -> str:
    text = value if isinstance(value, bytes) else json.dumps(value).encode()
    return base64.urlsafe_b64encode(text).decode().rstrip("=")


HEADER = {"alg": "ES384", "kid": "es"}


@pytest.mark.parametrize("text", [
    "", ".", "..", "...", "a.b", "a.b.c.d.e", "=.=.=", "\u00e4.b.c", f"{encoded([])}.{encoded({})}.AA",
    f"{encoded(b'nan')}.{encoded({})}.AA", f"{encoded(HEADER)}.{encoded([])}.AA",
    f"{encoded(HEADER)}.{encoded(b'{')}.AA", f"{encoded(HEADER)}..AA",
    f"{encoded(HEADER)}.{encoded(b'[' * 3_000)}.AA", f"{encoded(b'[' * 1_400)}.{encoded({})}.AA"])
def test_what_is_no_token_is_unreadable(verifier, text):
    assert reason(verifier, text) == Reason.UNREADABLE


def test_a_claim_that_stands_twice_is_unreadable(verifier):
    text = f'{{"iss":"{ISSUER.name}","aud":"{AUDIENCE}","exp":{NOW + 9},"exp":{NOW + 300}}}'
    assert reason(verifier, f"{encoded(HEADER)}.{encoded(text.encode())}.AA") == Reason.UNREADABLE
    nan = f'{{"iss":"{ISSUER.name}","aud":"{AUDIENCE}","exp":NaN}}'
    assert reason(verifier, f"{encoded(HEADER)}.{encoded(nan.encode())}.AA") == Reason.UNREADABLE


def test_a_text_beyond_any_token_is_not_looked_at(verifier):
    assert reason(verifier, "a" * (MOST_TOKEN_TEXT + 1)) == Reason.TOO_LONG


ANYTHING = st.none() | st.text() | st.integers() | st.floats() | st.lists(st.text()) | st.sampled_from(
    ["ES384", "es", "JWT", ISSUER.name, AUDIENCE, NOW, NOW + 300, *ISSUER.key_urls])
SHAPED = st.tuples(*(
    st.fixed_dictionaries({}, optional={name: ANYTHING for name in names})
    for names in (["alg", "kid", "typ", "jku", "crit"], ["iss", "aud", "exp", "iat", "jti"])))


@settings(max_examples=300)
@given(st.text(max_size=200) | st.binary(max_size=200).map(encoded) | SHAPED.map(
    lambda parts: f"{encoded(HEADER | parts[0])}.{encoded({'iss': ISSUER.name} | parts[1])}.AA"))
def test_any_text_ends_in_a_reason(text):
    assert reason(TokenVerifier(KeyCache(lambda _: KEY_SET), Seen()), text, HOOK) in set(Reason)


def test_a_refusal_names_no_claim(verifier):
    with pytest.raises(TokenRefused) as refused:
        verifier.verify(token(aud="planted", sub="planted"), ACCESS, AUDIENCE, now=NOW)
    assert str(refused.value) == "audience" and refused.value.issuer == ISSUER.name
    with pytest.raises(TokenRefused) as refused:
        verifier.verify(token(iss="planted"), ACCESS, AUDIENCE, now=NOW)
    assert refused.value.issuer == ""


@pytest.mark.parametrize("algorithm", KEYS)
def test_a_check_takes_a_moment(verifier, algorithm):
    text = token(algorithm)
    reason(verifier, text)
    started = perf_counter()
    for _ in range(20):
        assert reason(verifier, text) == ""
    assert (perf_counter() - started) / 20 < 0.005
