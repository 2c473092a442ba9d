"""Nothing but the sound bytes of a form is taken, whatever is done to them; everything ends in a sentence.

Counts as in a table: every byte of every form is altered in three ways (``HERDSYNC_PROOF_EXAMPLES``
sets how many longer alterations are tried).
"""

from __future__ import annotations

import bz2
import gzip
import io
import itertools
import lzma
import os
import random
import tracemalloc
import zipfile
import zlib
from collections.abc import Callable, Iterator

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from herdsync.exchange import bundle as bundles
from herdsync.exchange import pairing
from herdsync.faults import BadBytes, Refused
from herdsync.log import signing
from tests.hostile.forms import FORMS, Form

EXAMPLES = int(os.environ.get("HERDSYNC_PROOF_EXAMPLES", "60"))
at_length = settings(
    max_examples=EXAMPLES, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
PROVEN = [one for one in FORMS if one.proven]
MEBIBYTE = 1024 * 1024
FACES = (0x01, 0x80, 0xFF)
named = pytest.mark.parametrize("form", FORMS, ids=lambda one: one.name)
proven = pytest.mark.parametrize("form", PROVEN, ids=lambda one: one.name)


def taken(form: Form, raw: bytes) -> bool:
    """Whether the reader took these bytes; a refusal is a sentence."""
    try:
        form.reads(raw)
    except (BadBytes, Refused) as fault:
        assert fault.what.strip(), "a refusal says something"
        assert fault.what.rstrip().endswith((".", ")", "?", '"', "'", ":")), fault.what
        return False
    return True


def mutants(raw: bytes) -> Iterator[bytes]:
    for at in range(len(raw)):
        for face in FACES:
            yield raw[:at] + bytes([raw[at] ^ face]) + raw[at + 1 :]


@named
def test_the_sound_form_is_taken(form: Form) -> None:
    assert taken(form, form.sound)


@proven
def test_no_altered_byte_is_taken(form: Form) -> None:
    assert [one for one in mutants(form.sound) if taken(form, one)] == []


@proven
def test_no_beginning_and_nothing_longer_is_taken(form: Form) -> None:
    whole = form.sound
    changed = [whole[:size] for size in range(len(whole))]
    changed += [whole + bytes([one]) for one in range(256)] + [whole + whole, b"\0" + whole]
    assert [one for one in changed if taken(form, one)] == []


@named
@at_length
@given(st.data())
def test_whatever_is_cut_in_put_in_or_moved_ends_in_a_sentence(
    form: Form, data: st.DataObject
) -> None:
    raw = bytearray(form.sound)
    for _ in range(data.draw(st.integers(1, 4))):
        a, b = sorted(data.draw(st.tuples(st.integers(0, len(raw)), st.integers(0, len(raw)))))
        piece = data.draw(st.one_of(st.binary(max_size=8), st.just(bytes(raw[a:b]))))
        raw[a : data.draw(st.sampled_from((a, b)))] = piece
    if form.proven:
        assert bytes(raw) == form.sound or not taken(form, bytes(raw))
    else:
        taken(form, bytes(raw))


@named
@at_length
@given(st.binary(max_size=400), st.integers(0, 24))
def test_any_bytes_end_in_a_sentence(form: Form, raw: bytes, kept: int) -> None:
    taken(form, form.sound[:kept] + raw)


def zipped(raw: bytes) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("farm", raw)
    return file.getvalue()


def bombs(form: Form) -> dict[str, bytes]:
    """Input that claims, nests or is more than it should be."""
    begin = form.sound[:16]
    return {
        "claims four gigabytes of bytes": begin + b"\xc6\xff\xff\xff\xff",
        "claims four milliards of parts": begin + b"\xdd\xff\xff\xff\xff",
        "claims four milliards of keys": b"\xdf\xff\xff\xff\xff" + form.sound,
        "nests a hundred thousand deep": b"\x91" * 100_000,
        "nests behind its beginning": begin + b"\x91" * 100_000,
        "braces": b"[" * 100_000,
        "behind braces": begin + b'{"a":' * 50_000,
        "zeros": form.sound + bytes(MEBIBYTE),
        "itself often": form.sound * (MEBIBYTE // len(form.sound)),
        "a long line": b"x" * (MEBIBYTE),
    }


@pytest.mark.parametrize("bomb", bombs(FORMS[0]))
@named
def test_memory_is_bounded_whatever_input_claims(form: Form, bomb: str) -> None:
    raw = bombs(form)[bomb]
    tracemalloc.start()
    try:
        taken(form, raw)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 8 * len(raw) + 4 * MEBIBYTE


@proven
def test_no_signature_is_tried_on_what_is_too_large_or_out_of_form(
    form: Form, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried = []

    def counted(*told: bytes) -> bool:
        tried.append(told)
        return False

    for owner in (signing, bundles, pairing):
        monkeypatch.setattr(owner, "verifies", counted)
    for raw in bombs(form).values():
        assert not taken(form, raw)
    assert tried == []


def test_no_form_is_taken_for_another() -> None:
    for form in PROVEN:
        for other in FORMS:
            if other.name not in (form.name, "entry"):
                assert not taken(form, other.sound)


@at_length
@given(st.randoms(use_true_random=False), st.integers(0, 60))
def test_the_verdict_is_the_same_from_any_depth_of_the_callers_stack(
    chance: random.Random, deep: int
) -> None:
    form = PROVEN[chance.randrange(len(PROVEN))]
    at = chance.randrange(len(form.sound))
    raw = form.sound[:at] + bytes([form.sound[at] ^ 1]) + form.sound[at + 1 :]

    def below(levels: int) -> bool:
        return taken(form, raw) if levels == 0 else below(levels - 1)

    assert below(deep) == taken(form, raw) is False


def test_no_altered_byte_of_what_a_machine_reads_of_a_proof_is_taken() -> None:
    form = next(one for one in FORMS if one.name == "proof")
    whole, inside, at, tried = form.sound, False, 0, 0
    for line in whole.splitlines(keepends=True):
        marks = line.startswith(b"-----")
        inside = line.startswith(b"-----BEGIN") if marks else inside
        if inside and not marks:
            for place, face in itertools.product(range(at, at + len(line) - 1), FACES):
                turned = bytes([whole[place] ^ face])
                # Blanks within a block mean nothing: they are no part of what is signed.
                assert turned.isspace() or not taken(
                    form, whole[:place] + turned + whole[place + 1 :]
                )
                tried += 1
        at += len(line)
    assert tried > 2_000


def test_no_altered_byte_of_open_text_is_taken() -> None:
    form = next(one for one in FORMS if one.name == "open text")
    assert [one for one in mutants(form.sound) if taken(form, one)] == []
    # An editor may take the last line's end away.
    cut = (form.sound[:size] for size in range(len(form.sound) - 1))
    assert [one for one in cut if taken(form, one)] == []


COMPRESSED: dict[str, Callable[[bytes], bytes]] = {
    "gzip": gzip.compress, "zlib": zlib.compress, "bzip2": bz2.compress, "xz": lzma.compress,
    "zip": zipped,
}  # fmt: skip


@pytest.mark.parametrize("how", COMPRESSED)
@named
def test_nothing_compressed_is_ever_inflated(form: Form, how: str) -> None:
    compress = COMPRESSED[how]
    assert not (form.proven and taken(form, compress(form.sound)))
    bomb = compress(bytes(32 * MEBIBYTE))
    tracemalloc.start()
    try:
        taken(form, bomb)
        taken(form, form.sound[:16] + bomb)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 8 * MEBIBYTE
