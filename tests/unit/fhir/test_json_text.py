"""JSON in and out keeps every digit and refuses what would change in silence."""

import json
from decimal import Decimal

import orjson
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.errors import InvalidCase
from service.fhir.json_text import MOST_BYTES, MOST_ELEMENTS, MOST_LEVELS, dump, read_json


@pytest.mark.parametrize("text", ["12.50", "1E-7", "0.1234567890123456789012345678901", "-0.0", "1E+3"])
def test_a_decimal_leaves_as_it_came(text):
    body = b'{"value":' + text.encode() + b"}"
    assert dump(read_json(body)) == body


def test_an_integer_stays_an_integer():
    assert read_json(b'{"value":70}') == {"value": 70}
    assert isinstance(read_json(b'{"value":70}')["value"], int)


@pytest.mark.parametrize(("body", "error_id"), [
    (b'{"a":1,"a":2}', "duplicate-key"),
    (b'{"a":{"b":1,"b":1}}', "duplicate-key"),
    (b'{"a":-Infinity}', "number-not-finite"),
    (b'{"a":1e31}', "number-out-of-range"),
    (b'{"a":' + b"1" * 5000 + b"}", "number-out-of-range"),
    (b'{"a":0.' + b"1" * 60 + b"}", "number-out-of-range"),
    (b"[" * (MOST_LEVELS + 1) + b"]" * (MOST_LEVELS + 1), "nested-too-deep"),
    (b" " * (MOST_BYTES + 1), "body-too-large"),
    (b'{"a":1\x00}', "not-utf8"),
    (b'{"a":' + b"[[]," * MOST_LEVELS + b"[]" + b"]" * MOST_LEVELS + b"}", "nested-too-deep"),
    (b'{"a":[' + b"1," * MOST_ELEMENTS + b"1]}", "too-many-elements"),
    (b'{"a":"' + b"{" * (MOST_ELEMENTS + 1) + b'"}', "too-many-elements"),
    (b'"' * (4 * MOST_ELEMENTS + 4), "too-many-elements"),
])
def test_what_is_refused(body, error_id):
    with pytest.raises(InvalidCase) as refused:
        read_json(body)
    assert [fault.error_id for fault in refused.value.faults] == [error_id]


def test_brackets_in_a_text_are_no_levels():
    text = "[" * 1000 + '\\"{'
    assert read_json(('{"a":"' + text + '"}').encode()) == {"a": "[" * 1000 + '"{'}


@given(st.lists(st.text(alphabet='\\"[]{}a', max_size=12), max_size=12))
def test_whatever_stands_in_texts_is_no_level(texts):
    sent = {"a": texts + ["[" * (MOST_LEVELS + 1)]}
    assert read_json(json.dumps(sent).encode()) == sent


@pytest.mark.parametrize("levels", [MOST_LEVELS - 1, MOST_LEVELS])
def test_the_cap_of_levels_is_exact(levels):
    deep = b'{"a":' + b"[" * (levels - 1) + b"]" * (levels - 1) + b"}"
    assert read_json(deep)


def test_the_name_of_a_strange_key_is_not_repeated():
    with pytest.raises(InvalidCase) as refused:
        read_json(b'{"Mrs. Example, 4 March":1,"Mrs. Example, 4 March":2}')
    assert dict(refused.value.faults[0].values) == {"key": "?"}


@pytest.mark.parametrize("value", [Decimal("NaN"), Decimal("Infinity"), object()])
def test_what_json_has_no_form_for_is_not_written(value):
    with pytest.raises(orjson.JSONEncodeError):
        dump({"value": value})
