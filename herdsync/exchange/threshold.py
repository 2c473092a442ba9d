"""Who knocked over the network and waits: kept in notes of this laptop, so that any command on it sees them.

A stranger can fill this, so it holds little: the newest few requests, fewer still of one host, and only so
many a listening. Must not know the line they came over, nor how the log is stored.
"""

from __future__ import annotations

import threading
from typing import Annotated, Protocol, TypeVar

import msgspec
from msgspec import Meta, Struct

from herdsync.exchange.pairing import REQUEST_BYTES, WELCOME_BYTES, Request, read_request
from herdsync.faults import BadBytes, Refused
from herdsync.log.signing import SigningKey
from herdsync.log.trust import Members

T = TypeVar("T")

WAITING = 8
WAITING_OF_A_HOST = 3
WELCOMES = 8
# A listening takes so many requests; the check digits then hold against 1 in 30,000.
KNOCKS = 32
_KNOCKED = "knocked"
_WELCOMED = "welcomed"
_HOST = 100


# Under this name a laptop notes whose word it was let in by.
LET_IN_BY = "let-in-by"


class _Knock(Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    raw: Annotated[bytes, Meta(max_length=REQUEST_BYTES)]
    check: Annotated[str, Meta(max_length=20)]
    host: Annotated[str, Meta(max_length=_HOST)]


class _Given(Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    request: bytes
    welcome: Annotated[bytes, Meta(max_length=WELCOME_BYTES)]


_knocks = msgspec.msgpack.Decoder(list[_Knock])
_given = msgspec.msgpack.Decoder(list[_Given])


class Notes(Protocol):
    """What a threshold asks of the laptop it belongs to."""

    @property
    def key(self) -> SigningKey:
        """The laptop's key."""

    def noted(self, name: str) -> bytes | None:
        """A note, or None."""

    def note(self, name: str, told: bytes) -> None:
        """Keep a note."""

    def members(self) -> Members:
        """Who may write and read."""


class Threshold:
    """The requests that came over the network and the welcomes that wait to be fetched."""

    def __init__(self, ledger: Notes) -> None:
        self._ledger = ledger
        self._lock = threading.Lock()
        self._left = KNOCKS

    def knocked(self, raw: bytes, check: str, host: str) -> Request:
        """Keep a request with the digits its screen shows. Raises BadBytes and Refused."""
        request = read_request(raw)
        if request.asking.key in self._ledger.members().removed:
            raise Refused(
                "That laptop was put out of the farm; its old key stays out.",
                "Join afresh into another folder.",
            )
        with self._lock:
            if not self._left:
                raise Refused(
                    f"{KNOCKS} have asked here already.", "Have the listening begun anew there."
                )
            self._left -= 1
            kept = [one for one in self._knocks() if read_request(one.raw).id != request.id]
            kept.append(_Knock(raw, check, host[:_HOST]))
            of_host = [one for one in kept if one.host == kept[-1].host]
            kept = [one for one in kept if one not in of_host[:-WAITING_OF_A_HOST]]
            self._ledger.note(_KNOCKED, msgspec.msgpack.encode(kept[-WAITING:]))
        return request

    def waiting(self) -> list[tuple[Request, str]]:
        """The requests kept and their check digits, in the order they came."""
        return [(read_request(one.raw), one.check) for one in self._knocks()]

    def welcome(self, request: Request, raw: bytes) -> None:
        """Keep a welcome until its laptop fetches it."""
        kept = [one for one in self._welcomes() if one.request != request.id]
        kept.append(_Given(request.id, raw))
        self._ledger.note(_WELCOMED, msgspec.msgpack.encode(kept[-WELCOMES:]))

    def welcome_for(self, request: bytes) -> bytes | None:
        """The welcome for a request (its id); None while it waits. Raises Refused where it is not known."""
        for one in self._welcomes():
            if one.request == request:
                return one.welcome
        if all(read_request(one.raw).id != request for one in self._knocks()):
            raise Refused("It has no such request.", "Run 'herdsync join' again on the new laptop.")
        return None

    def _knocks(self) -> list[_Knock]:
        return _told(_knocks, self._ledger.noted(_KNOCKED))

    def _welcomes(self) -> list[_Given]:
        return _told(_given, self._ledger.noted(_WELCOMED))


def same_digits(one: str, other: str) -> bool:
    """Whether two people mean the same check digits, however they group them."""
    return "".join(one.split()) == "".join(other.split())


def introducer(ledger: Notes) -> bytes:
    """The device key whose welcome brought this laptop here, until its own log tells of both; else empty."""
    if ledger.key.public in ledger.members().known:
        return b""
    return ledger.noted(LET_IN_BY) or b""


def _told(decoder: msgspec.msgpack.Decoder[list[T]], note: bytes | None) -> list[T]:
    try:
        return decoder.decode(note) if note is not None else []
    except (msgspec.MsgspecError, UnicodeError) as fault:
        raise BadBytes("This laptop's note of who asks to join is damaged.") from fault
