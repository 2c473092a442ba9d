"""Rows of files that keepers, spreadsheets and enemies make."""

from __future__ import annotations

import tracemalloc
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.faults import Refused
from herdsync.papers.rows import CELL_LETTERS, LINE_BYTES, Row, rows_of


def told(raw: bytes, encoding: str = "") -> list[tuple[int, object]]:
    return [(row.number, row.why or row.cells) for row in rows_of([raw], encoding)]


def test_rows_keep_the_number_of_their_first_line() -> None:
    raw = b'a,b\r\n1,"two\r\nlines"\r\n\r\n , \r\n3,4'
    assert told(raw) == [(1, ("a", "b")), (2, ("1", "two\r\nlines")), (6, ("3", "4"))]


@pytest.mark.parametrize("sign", [",", ";", "\t"])
def test_the_headings_tell_what_parts_the_cells(sign: str) -> None:
    assert told(f"a{sign}b\n1{sign}2".encode()) == [(1, ("a", "b")), (2, ("1", "2"))]


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "windows-1252"])
def test_encodings(encoding: str) -> None:
    raw = "a,b\nJürgen,2\n".encode(encoding)
    named = {"utf-16-le": "utf-16", "windows-1252": "windows-1252"}.get(encoding, "")
    assert told(raw, named) == [(1, ("a", "b")), (2, ("Jürgen", "2"))]


def test_an_unknown_encoding_is_refused() -> None:
    with pytest.raises(Refused, match="utf-8"):
        list(rows_of([b"a"], "klingon"))


def test_a_bad_line_is_told_and_those_after_it_are_read() -> None:
    raw = b'a,b\n\xff\xfe,1\n2,"x"y\n3,4\n' + b"z" * (LINE_BYTES + 1) + b"\n5,6\n"
    found = told(raw)
    assert [number for number, _ in found] == [1, 2, 3, 4, 5, 6]
    assert [why for _, why in found if isinstance(why, str)] == [
        "it is not text in UTF-8: save the file as CSV UTF-8, or say --encoding",
        "its quotes or cells are not well formed (',' expected after '\"')",
        f"it is longer than {LINE_BYTES} bytes",
    ]


def test_a_quote_never_closed_ends_in_one_sentence() -> None:
    assert told(b'a\n"open\n1\n2')[-1] == (
        2, "a quote that opens here is never closed, so what follows was not read"
    )  # fmt: skip
    found = told(b'a\n"' + b"x\n" * CELL_LETTERS)
    assert "never closed" in str(found[1][1])


@given(st.binary(max_size=300), st.integers(1, 40))
def test_any_bytes_in_any_pieces_give_rows_and_no_fault(raw: bytes, size: int) -> None:
    pieces = [raw[place : place + size] for place in range(0, len(raw), size)]
    rows = list(rows_of(pieces))
    assert all(bool(row.why) != bool(row.cells) for row in rows)
    assert rows == list(rows_of([raw]))


def test_a_file_without_an_end_needs_no_more_memory_than_a_line() -> None:
    def endless() -> Iterator[bytes]:
        yield b"a,b\n"
        for _ in range(400):
            yield b"x" * 65_536

    tracemalloc.start()
    rows = list(rows_of(endless()))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert rows[1:] == [Row(2, why=f"it is longer than {LINE_BYTES} bytes")]
    assert peak < 4 * 1024 * 1024
