"""Text of ids against RFC 4648."""

from __future__ import annotations

import base64

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.kinds.ids import raw_id, text_id

# RFC 4648 (IETF, 2006) section 10, test vectors of base32, here without padding, in lower case.
RFC_4648 = {
    b"f": "my",
    b"fo": "mzxq",
    b"foo": "mzxw6",
    b"foob": "mzxw6yq",
    b"fooba": "mzxw6ytb",
    b"foobar": "mzxw6ytboi",
}


@pytest.mark.parametrize(("raw", "text"), RFC_4648.items())
def test_text_is_that_of_rfc_4648(raw: bytes, text: str) -> None:
    assert text_id(raw) == text


@pytest.mark.parametrize(("size", "length"), [(16, 26), (32, 52)])
def test_length_of_text(size: int, length: int) -> None:
    assert len(text_id(bytes(range(size)))) == length


@given(st.binary(min_size=16, max_size=16) | st.binary(min_size=32, max_size=32))
def test_text_comes_back_to_the_same_bytes(raw: bytes) -> None:
    assert raw_id(text_id(raw)) == raw
    assert text_id(raw).upper().encode() == base64.b32encode(raw).rstrip(b"=")


@given(st.text(max_size=60))
def test_only_one_text_means_an_id(text: str) -> None:
    try:
        raw = raw_id(text)
    except ValueError:
        return
    assert text_id(raw) == text


@pytest.mark.parametrize(
    "text",
    [
        "",
        "my",
        "a" * 25,
        "a" * 27,
        "A" * 26,
        # The last of 26 characters carries three bits only; "b" would set one that is cut off.
        "a" * 25 + "b",
        "a" * 25 + "1",
        "a" * 25 + "=",
        "ä" * 26,
    ],
)
def test_other_texts_are_no_ids(text: str) -> None:
    with pytest.raises(ValueError, match="not an id"):
        raw_id(text)
