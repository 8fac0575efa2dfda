"""What the API reads as JSON and what it turns away before anything else sees it."""

import json
import time
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.api import parser
from shop.shared.errors import Refusal

WRONG = {
    "nothing": b"",
    "spaces": b"  \n ",
    "half": b'{"a": ',
    "two values": b"{} {}",
    "python": b"{'a': 1}",
    "comment": b"{} // hello",
    "comma": b"[1,]",
    "not a number": b'{"a": NaN}',
    "infinity": b'{"a": Infinity}',
    "minus infinity": b'{"a": -Infinity}',
    "twice": b'{"a": 1, "a": 2}',
    "twice, deep": b'[{"b": {"a": 1, "a": 1}}]',
    "NUL escaped": b'{"a": "\\u0000"}',
    "NUL in a name": b'{"\\u0000": 1}',
    "NUL raw": b'{"a": "\x00"}',
    "high surrogate": b'{"a": "\\ud800"}',
    "low surrogate": b'{"a": "\\udfff"}',
    "surrogates swapped": b'["\\udc00\\ud800"]',
    "surrogate in a name": b'{"\\uDBFF": 1}',
    "surrogate in UTF-8": b'{"a": "\xed\xa0\x80"}',
    "latin-1": '{"a": "é"}'.encode("latin-1"),
    "utf-16": '{"a": 1}'.encode("utf-16"),
    "byte order mark": b'\xef\xbb\xbf{"a": 1}',
    "33 levels": b"[" * 33 + b"]" * 33,
    "100,000 levels": b"[" * 100_000 + b"]" * 100_000,
    "100,000 objects": b'{"a":' * 100_000 + b"1" + b"}" * 100_000,
    "5,000 digits": b'{"a": ' + b"1" * 5_000 + b"}",
    "5,000 digits after the point": b'{"a": 0.' + b"1" * 5_000 + b"}",
    "a huge exponent": b'{"a": 1e400}',
    "an absurd exponent": b'{"a": 1E+999999999}',
    "a tiny exponent": b'{"a": 1E-999999999}',
}


@pytest.mark.parametrize("raw", WRONG.values(), ids=WRONG.keys())
def test_it_turns_away_a_body_that_would_break_something_later(raw: bytes) -> None:
    with pytest.raises(parser.Malformed) as refused:
        parser.parse(raw)
    assert refused.value.status == 400
    assert refused.value.sentence.endswith(".")


def test_it_turns_away_a_body_above_one_mebibyte() -> None:
    with pytest.raises(parser.TooLarge):
        parser.parse(b'"' + b"a" * parser.MOST_BYTES + b'"')


@pytest.mark.parametrize(
    ("raw", "value"),
    [
        (b"[" * 32 + b"]" * 32, None),
        (b'{"a": "[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[["}', {"a": "[" * 40}),
        (b'{"a": "\\"[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[["}', {"a": '"' + "[" * 36}),
        (b'["\\ud83d\\ude00"]', ["\U0001f600"]),
        (b'["\\\\u0000"]', ["\\u0000"]),
        (b"[0.10]", [Decimal("0.10")]),
        (b"[9007199254740993]", [9007199254740993]),
        ('["½"]'.encode(), ["½"]),
    ],
)
def test_it_reads_what_only_looks_dangerous(raw: bytes, value: object) -> None:
    read = parser.parse(raw)
    assert value is None or read == value


@pytest.mark.parametrize(
    "raw",
    [
        b'"\\' * 500_000,
        b'{"' * 500_000,
        b'["a",' * 200_000,
        b'{"a":1,' + b",".join(b'"%d":1' % n for n in range(60_000)),
    ],
)
def test_it_turns_away_a_full_sized_body_in_a_few_seconds_of_work(raw: bytes) -> None:
    started = time.process_time()
    with pytest.raises(Refusal):
        parser.parse(raw)
    assert time.process_time() - started < 5


def test_it_finds_a_name_given_twice_among_very_many_in_a_few_seconds_of_work() -> None:
    raw = b"{" + b",".join(b'"%d":1' % n for n in [*range(90_000), 89_999]) + b"}"
    started = time.process_time()
    with pytest.raises(parser.Malformed):
        parser.parse(raw)
    assert time.process_time() - started < 5


@given(st.binary(max_size=200) | st.text(max_size=100).map(lambda text: text.encode("utf-8", "surrogatepass")))
def test_it_either_reads_a_body_or_refuses_it_whatever_the_bytes(raw: bytes) -> None:
    try:
        value = parser.parse(raw)
    except Refusal as refusal:
        assert refusal.status in {400, 413}  # noqa: PT017 - either outcome is right
    else:
        json.dumps(value, default=str).encode("utf-8")


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers(-(10**39), 10**39) | st.text(st.characters(exclude_categories=["Cs"])),
        lambda part: st.lists(part, max_size=4) | st.dictionaries(st.text(max_size=5), part, max_size=4),
        max_leaves=15,
    )
)
def test_it_reads_back_whatever_json_can_say_without_nul(value: object) -> None:
    text = json.dumps(value)
    if "\\u0000" in text or '"\\ud' in text:
        return
    assert parser.parse(text.encode()) == value
