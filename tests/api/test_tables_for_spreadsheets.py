"""CSV: the standard's shape, and no cell that a spreadsheet runs."""

import csv
import datetime as dt
import io
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.shared import csvs

LEADS = ["=", "+", "-", "@", "\t", "\r", "\n"]  # OWASP, CSV injection, revision of August 2025
PAYLOADS = [
    *[f"{lead}1+1" for lead in LEADS],
    *[f" {lead}cmd" for lead in LEADS],
    *[f"\u00a0{lead}x" for lead in LEADS],
    "=HYPERLINK(\"http://example.org\",\"x\")", "=cmd|' /C calc'!A0", "@SUM(1+1)*cmd|' /C calc'!A0", "+1-1", "-1+1",
    "a,=1+1", "a;=1+1", "a\t=1+1", "a\n=1+1", "a\r\n=1+1", "\"=1+1", "'=1+1", "a\",\"=1+1", "a\"\r\n=1+1", "|x", "%0A=1",
    "\uff1d1+1", "\uff0b1", "\uff0d1", "\uff201", "\u200b=1+1", "\ufeff=1+1", "a, =1", "a; @b", "a\",\u00a0=1", "=1\x00",
]  # fmt: skip


@pytest.mark.parametrize("payload", PAYLOADS)
def test_it_writes_no_cell_that_a_spreadsheet_runs(payload: str) -> None:
    text = csvs.write(["code", "name"], [["A-1", payload]])
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert len(rows) == 2
    assert len(rows[1]) == 2
    assert rows[1][1].startswith("'")
    assert not set(rows[1][1]) & set("\r\n\t\x00")


@pytest.mark.parametrize("text", ["Hammer 2 lb", "2-1/4 in", "O'Neil", "½ in", "HAM-2LB", "a, b", 'with "quotes"', ""])
def test_it_leaves_ordinary_words_as_they_are(text: str) -> None:
    rows = list(csv.reader(io.StringIO(csvs.write(["name"], [[text]]), newline="")))
    assert rows[1] == [text]


def test_it_writes_numbers_bare_and_moments_in_utc() -> None:
    moment = dt.datetime(2026, 3, 1, 8, 30, tzinfo=dt.timezone(dt.timedelta(hours=-6)))
    row = [7, Decimal("3746.50"), moment, dt.date(2026, 3, 1), None, "x"]
    text = csvs.write(["a", "b", "c", "d", "e", "f"], [row])
    assert text == 'a,b,c,d,e,f\r\n7,3746.50,2026-03-01T14:30:00Z,2026-03-01,,"x"\r\n'


@given(st.lists(st.tuples(st.text(max_size=20), st.integers(), st.text(max_size=20)), max_size=5))
def test_it_keeps_the_same_number_of_fields_on_every_line(rows: list[tuple[str, int, str]]) -> None:
    text = csvs.write(["one", "two", "three"], rows)
    back = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert len(back) == len(rows) + 1
    assert all(len(row) == 3 for row in back)
    assert text.count("\r\n") == len(rows) + 1
