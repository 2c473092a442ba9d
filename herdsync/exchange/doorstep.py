"""Pairing through a carrier: the request left there, the code proven, the welcome found.

Must not know how the log is stored; the entry that admits is written by the farm.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Protocol

from msgspec import Struct

from herdsync.answers import Setback
from herdsync.exchange.carrier import Carrier
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
    """The sound requests on a carrier, oldest by their own clocks first, and what was refused."""

    requests: list[Request]
    refused: list[Setback]


class Found(Struct, frozen=True):
    """The welcome for a laptop that asked, or None, and what was refused."""

    welcome: Welcome | None
    refused: list[Setback]


def leave_request(carrier: Carrier, pending: Pending) -> str:
    """Leave a laptop's request on a carrier; answers the file's name. Doing it again changes nothing.

    Raises Refused where the carrier cannot be written.
    """
    carrier.names()
    name = f"{tag_text(joiner_tag(pending.key().public))}{REQUEST}"
    data = write_request(pending)
    if not carrier.create(name, data) and carrier.read(name, REQUEST_BYTES) != data:
        raise Refused(
            f"There is another file named {name} there.", "Delete that file, then join again."
        )
    return name


def requests_in(carrier: Carrier) -> Asked:
    """The requests on a carrier. Raises Refused where it is not there."""
    found: dict[bytes, Request] = {}
    refused: list[Setback] = []
    for name, raw in _files(carrier, REQUEST, REQUEST_BYTES, refused):
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
            "There is no request to join there.",
            "Run 'herdsync join' on the new laptop with the same folder, stick or depot.",
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
    if len({one.asking.key for one in fitting}) > 1:
        raise Refused(
            "Two laptops ask with this very code: someone else has it. Neither was let in.",
            "Run 'herdsync join' again on the new laptop under another name; it shows a new code.",
        )
    return fitting


def _wrong_code(left: int) -> Refused:
    if left:
        return Refused(
            f"The code belongs to no request there. Wrong codes left before it is void: {left}.",
            "Have it read out again from the laptop that asks.",
        )
    return Refused(
        f"The code belongs to no request there; after {WRONG_CODES} wrong codes it is void.",
        "Run 'herdsync join' again on the new laptop; it shows a new code.",
    )


def leave_welcome(
    carrier: Carrier,
    request: Request,
    code: str,
    founding: Entry,
    admission: bytes,
    admitter: bytes,
) -> str:
    """Leave the welcome for a laptop just admitted; answers the file's name. May be left again.

    ``admitter`` is the device key of the laptop that admits. Raises Refused where the carrier cannot be
    written or the code is not the request's.
    """
    data = welcome_of(request, code, founding, admission, admitter)
    tag = tag_text(joiner_tag(request.asking.key))
    for number in range(1, FILES + 1):
        name = f"{tag}-{number}{WELCOME}"
        if carrier.create(name, data):
            return name
    raise Refused(
        f"There are {FILES} welcomes for that laptop there.", "Delete them, then admit it again."
    )


def welcome_of(
    request: Request, code: str, founding: Entry, admission: bytes, admitter: bytes
) -> bytes:
    """The welcome's bytes. Raises Refused where the code is not the request's."""
    secret = secret_of(code)
    if not code_fits(request, secret):
        raise Refused("The code does not belong to that request.", "Have it read out again.")
    return write_welcome(request, secret, founding, admission, admitter)


def find_welcome(carrier: Carrier, pending: Pending) -> Found:
    """The welcome for a laptop that asked. Raises Refused where the carrier is not there."""
    tag = tag_text(joiner_tag(pending.key().public))
    refused: list[Setback] = []
    for name, raw in _files(carrier, WELCOME, WELCOME_BYTES, refused):
        # The others are for other laptops: they are sealed to those, and no fault here.
        if tag in name.lower():
            try:
                return Found(read_welcome(raw, pending), refused)
            except BadBytes as fault:
                refused.append(_setback(name, fault))
    return Found(None, refused)


def withdraw_request(carrier: Carrier, pending: Pending) -> None:
    """Take this laptop's own request away again, once it is welcomed."""
    carrier.remove(f"{tag_text(joiner_tag(pending.key().public))}{REQUEST}")


def _files(
    carrier: Carrier, suffix: str, most: int, refused: list[Setback]
) -> Iterator[tuple[str, bytes]]:
    """The files with this suffix in their names (also conflict copies), at most a hundred of them."""
    names = [name for name in carrier.names().names if suffix in name.lower()]
    for name in names[:FILES]:
        try:
            raw = carrier.read(name, most)
        except BadBytes as fault:
            refused.append(_setback(name, fault))
            continue
        if raw is not None:
            yield name, raw


def _setback(name: str, fault: BadBytes) -> Setback:
    return Setback(f"file {safe_text(name)}", str(fault))
