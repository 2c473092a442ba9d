"""The whole farm as open text: one JSON object a line, every signed entry in words, and back exactly.

The first line says what it is; then one line an entry in causal order, from which the entry's exact
bytes follow; then (for readers without this program) one line a record as it counts; the last line
counts and hashes what stands before it. Nothing secret is in any of them. In payloads, bytes are text
that begins with ``~`` (base32), and text that begins with ``~`` gets one more. The schema: DEVELOPERS.md.
Must not know disk or farm.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import msgspec
from msgspec import Struct

from herdsync.faults import BadBytes
from herdsync.kinds.ids import raw_id, text_id
from herdsync.log import canonical
from herdsync.log.entry import Entry, Header, body_hash, encode_body, read
from herdsync.log.limits import BODY_BYTES, HEADER_BYTES

SCHEMA = 1
WHAT = "whole farm"
BYTES_MARK = "~"
# An entry in words needs at most about four times its bytes.
LINE_BYTES = 6 * (HEADER_BYTES + BODY_BYTES)
_HOSTILE = (msgspec.MsgspecError, ValueError, OverflowError, RecursionError, TypeError)


class First(Struct, frozen=True):
    """What the file is: of which farm, as of when, how many entries and records follow."""

    herdsync: str
    schema: int
    farm: str
    name: str
    entries: int
    records: int = 0
    as_of: str = ""


class EntryLine(Struct, frozen=True):
    """One entry in words; ids are base32, the signature base64."""

    entry: str
    version: int
    farm: str
    device: str
    sequence: int
    previous: str
    parents: list[str]
    height: int
    clock: int
    verb: str
    kind: str
    kind_version: int
    flags: int
    subjects: list[str]
    salt: str
    by: str
    batch: str | None
    payload: dict[str, Any]
    signature: str


class Last(Struct, frozen=True):
    """What closes the file: how many lines stand before it, and their SHA-256."""

    lines: int
    sha256: str


_first = msgspec.json.Decoder(First)
_entry = msgspec.json.Decoder(EntryLine)
_last = msgspec.json.Decoder(Last)


def lines_of(
    first: First, entries: Iterable[Entry], records: Iterable[dict[str, Any]]
) -> Iterator[bytes]:
    """The file, line by line. ``entries`` in causal order, ``records`` as `sheets.record_line` has them."""
    digest = hashlib.sha256()
    count = 0
    for told in _every(first, entries, records):
        line = json.dumps(told, ensure_ascii=True, separators=(",", ":")).encode() + b"\n"
        digest.update(line)
        count += 1
        yield line
    closing = msgspec.to_builtins(Last(count, digest.hexdigest()))
    yield json.dumps(closing, separators=(",", ":")).encode() + b"\n"


def is_open_farm(beginning: bytes) -> bool:
    """Whether a file begins as one of these."""
    return beginning.startswith(b'{"herdsync":')


def first_of(line: bytes) -> First:
    """The first line. Raises BadBytes where it is none, or of a newer program."""
    try:
        first = _first.decode(line)
    except _HOSTILE as fault:
        raise BadBytes("The file's first line does not say that it is a whole farm.") from fault
    if first.herdsync != WHAT or first.schema != SCHEMA:
        raise BadBytes(
            f"The file is of schema {first.schema}; this program reads schema {SCHEMA}.",
            "Update this program.",
        )
    return first


def entry_of(line: bytes) -> Entry:
    """The entry a line tells, its bytes exactly those that were signed. Raises BadBytes."""
    try:
        told = _entry.decode(line)
        body = encode_body(raw(told.salt), told.by, raw(told.batch) if told.batch else None,
                           {name: _closed(value) for name, value in told.payload.items()})  # fmt: skip
        header = Header(
            told.version, raw_id(told.farm), raw_id(told.device), told.sequence,
            raw_id(told.previous), [raw_id(one) for one in told.parents], told.height, told.clock,
            told.verb, told.kind, told.kind_version, told.flags,
            [raw_id(one) for one in told.subjects], body_hash(body), len(body),
        )  # fmt: skip
        signature = base64.b64decode(told.signature, validate=True)
        entry = read(canonical.encode(header), body, signature)
    except _HOSTILE as fault:
        raise BadBytes(f"It is no entry in words ({str(fault)[:120]}).") from fault
    if text_id(entry.id) != told.entry:
        raise BadBytes("What it tells is not the entry it names.")
    return entry


def raw(text: str) -> bytes:
    """Bytes of base32 text of any length. Raises ValueError."""
    try:
        return base64.b32decode(text.upper() + "=" * (-len(text) % 8))
    except binascii.Error as fault:
        raise ValueError("not base32") from fault


class Reader:
    """Takes a file's lines one by one and checks that nothing is missing or added.

    Hands each entry to ``take``; gathers what is wrong by line. ``whole`` is true once the closing
    line agrees with all before it.
    """

    def __init__(self, take: Callable[[Entry], None]) -> None:
        self.first: First | None = None
        self.faults: list[tuple[int, str]] = []
        self.entries = 0
        self.whole = False
        self._take = take
        self._digest = hashlib.sha256()
        self._count = 0

    def line(self, line: bytes) -> None:
        """One line with its end."""
        number = self._count + 1
        if self.whole:
            self.faults.append((number, "something follows the line that closes the file"))
            self.whole = False
            return
        if line.startswith(b'{"lines":'):
            self._close(line, number)
            return
        self._digest.update(line)
        self._count = number
        try:
            if self.first is None:
                self.first = first_of(line)
            elif line.startswith(b'{"entry":'):
                self._take(entry_of(line))
                self.entries += 1
            elif not line.startswith(b'{"record":'):
                raise BadBytes("It is neither an entry nor a record.")
        except BadBytes as fault:
            self.faults.append((number, str(fault)))

    def _close(self, line: bytes, number: int) -> None:
        try:
            last = _last.decode(line)
        except _HOSTILE:
            self.faults.append((number, "the line that closes the file cannot be read"))
            return
        if last.lines == self._count and last.sha256 == self._digest.hexdigest():
            self.whole = True
        else:
            self.faults.append((number, "lines before it were changed, added or left out"))


def _every(
    first: First, entries: Iterable[Entry], records: Iterable[dict[str, Any]]
) -> Iterator[dict[str, Any]]:
    yield msgspec.to_builtins(first)
    for entry in entries:
        yield _told(entry)
    yield from records


def _told(entry: Entry) -> dict[str, Any]:
    header, body = entry.header, entry.body
    return {
        "entry": text_id(entry.id),
        "version": header.version,
        "farm": text_id(header.farm),
        "device": text_id(header.device),
        "sequence": header.sequence,
        "previous": text_id(header.previous),
        "parents": [text_id(one) for one in header.parents],
        "height": header.height,
        "clock": header.clock,
        "verb": header.verb,
        "kind": header.kind,
        "kind_version": header.kind_version,
        "flags": header.flags,
        "subjects": [text_id(one) for one in header.subjects],
        "salt": text_id(body.salt),
        "by": body.by,
        "batch": None if body.batch is None else text_id(body.batch),
        "payload": {name: _open(value) for name, value in body.payload.items()},
        "signature": base64.b64encode(entry.signature).decode(),
    }


def _open(value: Any) -> Any:
    if isinstance(value, bytes):
        return BYTES_MARK + text_id(value)
    if isinstance(value, str):
        return BYTES_MARK + value if value.startswith(BYTES_MARK) else value
    if isinstance(value, list):
        return [_open(one) for one in value]
    if isinstance(value, dict):
        return {name: _open(one) for name, one in value.items()}
    return value


def _closed(value: Any) -> Any:
    if isinstance(value, str) and value.startswith(BYTES_MARK):
        told = value[len(BYTES_MARK) :]
        return told if told.startswith(BYTES_MARK) else raw(told)
    if isinstance(value, list):
        return [_closed(one) for one in value]
    if isinstance(value, dict):
        return {name: _closed(one) for name, one in value.items()}
    return value
