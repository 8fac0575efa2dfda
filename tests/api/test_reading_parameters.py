"""Query parameters: only declared ones, each once, each of its kind."""

import datetime as dt

import pytest
from django.http import QueryDict
from hypothesis import given
from hypothesis import strategies as st

from shop.api import reading
from shop.api.refusals import BadParameters

DECLARED = (
    reading.Whole("limit", "How many.", default=100, low=1, high=1000),
    reading.Parameter("cursor", "From where."),
    reading.Day("from", "First day."),
    reading.Instant("since", "Since when."),
    reading.Choice("state", "Which.", choices=("open", "closed")),
    reading.Several("item", "Which items."),
)


def read(text: str) -> dict[str, object]:
    return reading.read(QueryDict(text), DECLARED)


def refuse(text: str) -> list[dict[str, str]]:
    with pytest.raises(BadParameters) as refused:
        read(text)
    return refused.value.errors  # type: ignore[attr-defined,no-any-return]


def test_it_reads_every_kind_of_parameter() -> None:
    values = read("limit=7&cursor=abc&from=2026-03-01&since=2026-03-01T08:30:00-06:00&state=open&item=A-1,B-2")
    assert values == {
        "limit": 7,
        "cursor": "abc",
        "from": dt.date(2026, 3, 1),
        "since": dt.datetime(2026, 3, 1, 14, 30, tzinfo=dt.UTC),
        "state": "open",
        "item": ("A-1", "B-2"),
    }
    assert read("")["limit"] == 100


@pytest.mark.parametrize(
    ("wrong", "near"), [("limt", "limit"), ("Limit", "limit"), ("items", "item"), ("stat", "state")]
)
def test_it_names_the_nearest_parameter_for_an_unknown_one(wrong: str, near: str) -> None:
    assert f"“{near}”" in refuse(f"{wrong}=1")[0]["message"]


def test_it_lists_all_parameters_where_none_is_near() -> None:
    assert "limit, cursor, from" in refuse("zzzzzz=1")[0]["message"]


@pytest.mark.parametrize(
    "text",
    [
        "limit=", "limit=0", "limit=1001", "limit=-1", "limit=1.0", "limit=1e2", "limit=%D9%A1", "limit=+1",
        "limit=" + "9" * 5000, "limit=1000000000000000000000000000000", "limit=1&limit=1", "limit=abc", "limit=%00",
        "cursor=" + "a" * 201, "cursor=%00", "cursor=%0d%0aX:1", "cursor=%ff%fe", "cursor=%20%20",
        "from=2026-02-30", "from=2026-3-1", "from=20260301", "from=0000-01-01", "from=9999-12-31",
        "from=2026-03-01T00:00:00Z", "from=today", "from=2026-W10-1", "from=%D9%A2026-03-01",
        "since=2026-03-01T08:30:00", "since=2026-03-01", "since=2026-03-01T08:30:60Z", "since=2026-03-01T24:00:00Z",
        "since=9999-12-31T23:59:59-12:00", "since=0001-01-01T00:00:00%2B14:00", "since=2026-03-01T08:30:00%2B25:00",
        "since=2026-03-01T08:30Z", "since=1772353800", "since=2026-03-01T08:30:00.1234567Z",
        "state=OPEN", "state=open,closed", "item=,", "item=A,,B", "item=A,A", "item=" + ",".join(["A"] * 501),
        "item=" + "A" * 31, "from__year=2026", "state__in=open", "=1", "limit[]=1", "%00=1",
    ],
)  # fmt: skip
def test_it_refuses_a_value_that_cannot_be_used(text: str) -> None:
    assert refuse(text)


def test_it_tells_everything_that_is_wrong_at_once() -> None:
    assert [line["code"] for line in refuse("limit=0&from=x&nope=1&state=")] == [
        "unusable",
        "unusable",
        "unknown",
        "empty",
    ]


@given(
    st.dictionaries(st.sampled_from(["limit", "cursor", "from", "since", "state", "item", "x"]), st.text(max_size=40))
)
def test_it_either_reads_or_refuses_whatever_is_sent(given_values: dict[str, str]) -> None:
    query = QueryDict(mutable=True)
    for name, value in given_values.items():
        query[name] = value
    try:
        values = reading.read(query, DECLARED)
    except BadParameters as refusal:
        assert refusal.status == 400  # noqa: PT017 - either outcome is right
    else:
        assert set(values) == {"limit", "cursor", "from", "since", "state", "item"}
