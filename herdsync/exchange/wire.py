"""What two laptops say to each other in a session: the messages, and how they lie in a row of bytes.

    length (4 bytes, big-endian), kind (1 byte), the message in its one canonical form

The greeting alone begins with a magic and the version, so that every version knows every other's.
Must not know what follows which message, nor what carries the bytes.
"""

from __future__ import annotations

from typing import Annotated, Final

import msgspec
from msgspec import Meta, Struct

from herdsync.exchange.frontier import TIPS, Id, Tip, Want
from herdsync.exchange.load import RunHead
from herdsync.exchange.shapes import typed
from herdsync.faults import BadBytes, Refused
from herdsync.log import canonical
from herdsync.log.limits import CLOCK_MS, ENTRY_BYTES

MAGIC = b"HERDSYNC-SESSION"
VERSION = 1

# A batch is told within this; with the fullest entry on top a message stays below its bound.
BATCH_ENTRIES = 256
BATCH_BYTES = 1024 * 1024
MESSAGE_BYTES = BATCH_BYTES + 2 * ENTRY_BYTES
LENGTH_BYTES = 4
SENTENCE = 500

GREETING, FRONTIER, WANTS, BATCH, SERVED, DONE, REFUSAL = range(7)


class Greeting(Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    """Which farm, the newest entry format read, this laptop's clock (a claim), its frontier's hash."""

    farm: Id
    program: Annotated[int, Meta(ge=0, le=65_535)]
    clock: Annotated[int, Meta(ge=-CLOCK_MS, le=CLOCK_MS)]
    frontier: Id


class Batch(Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    """Entries in causal order, as in a bundle: where each run begins, then the records."""

    runs: Annotated[list[RunHead], Meta(min_length=1, max_length=BATCH_ENTRIES)]
    pieces: Annotated[list[bytes], Meta(min_length=1, max_length=BATCH_ENTRIES)]


class Refusal(Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    """Why the other laptop ends the session, as a sentence."""

    why: Annotated[str, Meta(max_length=SENTENCE)]


Tips = Annotated[list[Tip], Meta(max_length=TIPS)]
Message = Greeting | list[Tip] | list[Want] | Batch | list[bytes] | Refusal

_greeting: Final = msgspec.msgpack.Decoder(Greeting)
_tips: Final = msgspec.msgpack.Decoder(Tips)
_wants: Final = msgspec.msgpack.Decoder(Annotated[list[Want], Meta(min_length=1, max_length=TIPS)])
_batch: Final = msgspec.msgpack.Decoder(Batch)
_ids: Final = msgspec.msgpack.Decoder(Annotated[list[Id], Meta(max_length=TIPS)])
_refusal: Final = msgspec.msgpack.Decoder(Refusal)


def framed(kind: int, message: Message) -> bytes:
    """A message as it lies in the row of bytes."""
    inside = canonical.encode(message)
    if kind == GREETING:
        inside = MAGIC + bytes([VERSION]) + inside
    assert len(inside) < MESSAGE_BYTES, "what is said was cut to the room there is"
    return (len(inside) + 1).to_bytes(LENGTH_BYTES, "big") + bytes([kind]) + inside


class Frames:
    """Cuts a row of bytes, however it arrives, into messages; keeps at most one unfinished."""

    def __init__(self) -> None:
        self._held = bytearray()

    def add(self, data: bytes) -> None:
        """Take up the next bytes."""
        self._held += data

    def next(self) -> bytes | None:
        """The next whole message, kind byte first; None until it is here. Raises BadBytes."""
        if len(self._held) < LENGTH_BYTES:
            return None
        length = int.from_bytes(self._held[:LENGTH_BYTES], "big")
        if not 1 <= length <= MESSAGE_BYTES:
            raise BadBytes("It says something longer than anything this program says.")
        end = LENGTH_BYTES + length
        if len(self._held) < end:
            return None
        frame = bytes(self._held[LENGTH_BYTES:end])
        del self._held[:end]
        return frame


def greeting_of(frame: bytes) -> Greeting:
    """The greeting a message is. Raises BadBytes, and Refused for another version's."""
    body = frame[1:]
    if frame[0] != GREETING or not body.startswith(MAGIC) or len(body) <= len(MAGIC):
        raise BadBytes("It does not greet as a laptop with herdsync does.")
    version = body[len(MAGIC)]
    if version != VERSION:
        older = "This laptop's" if version > VERSION else "The other laptop's"
        raise Refused(
            f"The other laptop exchanges in version {version}, this one in version {VERSION}.",
            f"{older} program is the older one: update it, or exchange through a folder.",
        )
    return typed(_greeting, body[len(MAGIC) + 1 :])


def frontier_in(body: bytes) -> list[Tip]:
    """A frontier as told. Raises BadBytes."""
    tips = typed(_tips, body)
    if tips != sorted(set(tips)):
        raise BadBytes("Its frontier is doubled or out of order.")
    return tips


def wants_in(body: bytes) -> list[Want]:
    """What is asked for. Raises BadBytes."""
    return typed(_wants, body)


def batch_in(body: bytes) -> Batch:
    """A batch of entries. Raises BadBytes."""
    return typed(_batch, body)


def ids_in(body: bytes) -> list[bytes]:
    """The tips that went astray. Raises BadBytes."""
    return typed(_ids, body)


def refusal_in(body: bytes) -> str:
    """Why the other laptop ends the session. Raises BadBytes."""
    return typed(_refusal, body).why
