"""Spreadsheet cells: RFC 4180 (IETF, 2005) forms, and a guard against formulas that can be undone."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.papers.cells import ACTIVE, guarded, unguarded, written
from herdsync.safe_text import safe_text


def test_quoting_as_rfc_4180_has_it() -> None:
    """RFC 4180 section 2, rules 1, 5, 6 and 7: CRLF, quotes doubled, commas and line ends quoted."""
    told = b"".join(written(["a", "b"], [['a "b" ', "x,y"], ["two\nlines", -1.5], [True, None]]))
    # C135 (from memory).
    assert b"".join(written(["c"], [['a "b" , c']])) == b'c\r\n"a ""b"" , c"\r\n'
    assert told == b'a,b\r\n"a ""b"" ","x,y"\r\n"two\nlines",-1.5\r\nyes,\r\n'


# Beginnings that spreadsheets act on: OWASP, "CSV Injection" (from memory).
@pytest.mark.parametrize(
    "told",
    ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "  =1", "\uff1d1", '=HYPERLINK("http://x")', "|calc"],
)
def test_nothing_a_spreadsheet_acts_on_begins_a_cell(told: str) -> None:
    cell = next(iter(csv.reader(io.StringIO(b"".join(written(["h"], [[told]])).decode()[3:]))))[0]
    # A control character is written out, so it is a backslash that begins the cell.
    assert cell.startswith("\\x09" if told[0] == "\t" else "'")
    assert told[0] == "\t" or unguarded(cell) == told


@given(st.text(max_size=30))
def test_the_guard_can_be_undone(told: str) -> None:
    shown = "\n".join(safe_text(one) for one in told.replace("\r\n", "\n").split("\n"))
    assert unguarded(guarded(told)) == shown
    assert guarded(told)[:1] not in ACTIVE - {"'"}
