"""Pairing through a folder or stick: the request left there, the code proven, the welcome found.

Must not know how the log is stored; the entry that admits is written by the farm.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Protocol

from msgspec import Struct

from herdsync.answers import Setback
from herdsync.exchange.folder import Folder
from herdsync.exchange.pairing import (
    REQUEST_BYTES,
    WELCOME_BYTES,
    WRONG_CODES,
    Pending,
    Request,
    Welcome,
    code_fits,
    joiner_tag,
    read_request,
    read_welcome,
    secret_of,
    write_request,
    write_welcome,
)
from herdsync.exchange.sealing import tag_text
from herdsync.faults import BadBytes, Refused
from herdsync.log.entry import Entry
from herdsync.safe_text import safe_text

REQUEST = ".request"
WELCOME = ".welcome"
FILES = 100


class Tally(Protocol):
    """How many wrong codes a request (its 32-byte id) has met, kept durably."""

    def wrong_codes(self, request: bytes) -> int:
        """The count so far."""

    def count_wrong_code(self, request: bytes) -> None:
        """One more."""


class Asked(Struct, frozen=True):
    """The sound requests in a folder, oldest by their own clocks first, and what was refused."""

    requests: list[Request]
    refused: list[Setback]


class Found(Struct, frozen=True):
    """The welcome for a laptop that asked, or None, and what was refused."""

    welcome: Welcome | None
    refused: list[Setback]


def leave_request(path: Path, pending: Pending, entropy: Callable[[int], bytes]) -> str:
    """Leave a laptop's request in a folder; answers the file's name. Doing it again changes nothing.

    Raises Refused where the folder cannot be written.
    """
    folder = Folder(path, entropy)
    folder.names()
    name = f"{tag_text(joiner_tag(pending.key().public))}{REQUEST}"
    data = write_request(pending)
    if not folder.create(name, data) and folder.read(name, REQUEST_BYTES) != data:
        raise Refused(
            f"The folder holds another file named {name}.", "Delete that file, then join again."
        )
    return name


def requests_in(path: Path, entropy: Callable[[int], bytes]) -> Asked:
    """The requests in a folder. Raises Refused where there is no such folder."""
    found: dict[bytes, Request] = {}
    refused: list[Setback] = []
    for name, raw in _files(Folder(path, entropy), REQUEST, REQUEST_BYTES, refused):
        try:
            request = read_request(raw)
        except BadBytes as fault:
            refused.append(_setback(name, fault))
        else:
            found[request.id] = request
    ordered = sorted(found.values(), key=lambda one: (one.asking.asked, one.id))
    return Asked(ordered, refused)


def proven(requests: list[Request], code: str, tally: Tally) -> list[Request]:
    """The requests the code belongs to, at least one. Raises Refused; a wrong code is counted first."""
    if not requests:
        raise Refused(
            "There is no request to join in that folder.",
            "Run 'herdsync join' on the new laptop with the same folder or stick.",
        )
    secret = secret_of(code)
    alive = [one for one in requests if tally.wrong_codes(one.id) < WRONG_CODES]
    if not alive:
        raise _wrong_code(0)
    fitting = [one for one in alive if code_fits(one, secret)]
    if not fitting:
        for one in alive:
            tally.count_wrong_code(one.id)
        raise _wrong_code(max(WRONG_CODES - tally.wrong_codes(one.id) for one in alive))
    return fitting


def _wrong_code(left: int) -> Refused:
    if left:
        return Refused(
            f"The code belongs to no request in that folder. Wrong codes left before it is void: {left}.",
            "Have it read out again from the laptop that asks.",
        )
    return Refused(
        f"The code belongs to no request in that folder; after {WRONG_CODES} wrong codes it is void.",
        "Run 'herdsync join' again on the new laptop; it shows a new code.",
    )


def leave_welcome(
    path: Path,
    request: Request,
    code: str,
    founding: Entry,
    admission: bytes,
    entropy: Callable[[int], bytes],
) -> str:
    """Leave the welcome for a laptop just admitted; answers the file's name. May be left again.

    Raises Refused where the folder cannot be written or the code is not the request's.
    """
    secret = secret_of(code)
    if not code_fits(request, secret):
        raise Refused("The code does not belong to that request.", "Have it read out again.")
    folder = Folder(path, entropy)
    data = write_welcome(request, secret, founding, admission)
    tag = tag_text(joiner_tag(request.asking.key))
    for number in range(1, FILES + 1):
        name = f"{tag}-{number}{WELCOME}"
        if folder.create(name, data):
            return name
    raise Refused(
        f"The folder holds {FILES} welcomes for that laptop.", "Delete them, then admit it again."
    )


def find_welcome(path: Path, pending: Pending, entropy: Callable[[int], bytes]) -> Found:
    """The welcome for a laptop that asked. Raises Refused where there is no such folder."""
    tag = tag_text(joiner_tag(pending.key().public))
    refused: list[Setback] = []
    for name, raw in _files(Folder(path, entropy), WELCOME, WELCOME_BYTES, refused):
        # The others are for other laptops: they are sealed to those, and no fault here.
        if tag in name.lower():
            try:
                return Found(read_welcome(raw, pending), refused)
            except BadBytes as fault:
                refused.append(_setback(name, fault))
    return Found(None, refused)


def withdraw_request(path: Path, pending: Pending, entropy: Callable[[int], bytes]) -> None:
    """Take this laptop's own request away again, once it is welcomed."""
    Folder(path, entropy).remove(f"{tag_text(joiner_tag(pending.key().public))}{REQUEST}")


def _files(
    folder: Folder, suffix: str, most: int, refused: list[Setback]
) -> Iterator[tuple[str, bytes]]:
    """The files with this suffix in their names (also conflict copies), at most a hundred of them."""
    names = [name for name in folder.names().names if suffix in name.lower()]
    for name in names[:FILES]:
        try:
            raw = folder.read(name, most)
        except BadBytes as fault:
            refused.append(_setback(name, fault))
            continue
        if raw is not None:
            yield name, raw


def _setback(name: str, fault: BadBytes) -> Setback:
    return Setback(f"file {safe_text(name)}", str(fault))
