"""Letting a new laptop in: its request, the code read out, the welcome. Bytes in, values out.

The new laptop makes its keys and a one-time 80-bit secret, and leaves a request authenticated under the
secret (HMAC-SHA256, RFC 2104). The secret is read out as a code of 16 letters; who types it proves the
request, and answers with a welcome authenticated under the same secret and sealed to the new laptop, so
that it takes no other farm and a carrier learns nothing of this one. The request itself can be read by
anyone who holds the carrier: it names the keeper and the laptop.
Must not know files, folders or the log's store.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated

import msgspec
from msgspec import Meta, Struct

from herdsync.exchange.sealing import refuse_weak_seal_key, seal, unseal
from herdsync.exchange.shapes import typed
from herdsync.faults import BadBytes, Refused
from herdsync.log import canonical
from herdsync.log.entry import NO_ID, Entry, Place, pack, unpack
from herdsync.log.limits import CLOCK_MS, ENTRY_BYTES
from herdsync.log.signing import SigningKey, entry_verifies, refuse_weak_key, verifies
from herdsync.log.trust import Admitting, Key, Name, Role, founding_of

# Stands after the request's magic, so that every version knows every later one's.
VERSION = 1
REQUEST_MAGIC = b"HERDSYNC-REQUEST"
WELCOME_MAGIC = b"HERDSYNC-WELCOME"
TAG_ASKING = b"herdsync/1/join-asking\0"
TAG_REQUEST = b"herdsync/1/join-request\0"
TAG_WELCOME = b"herdsync/1/join-welcome\0"
TAG_SEALED = b"herdsync/1/join-sealed\0"
TAG_JOINER = b"herdsync/1/join-tag\0"

REQUEST_BYTES = 4_096
WELCOME_BYTES = ENTRY_BYTES + 4_096
SECRET_BYTES = 10
SEED_BYTES = 32
JOINER_TAG_BYTES = 5
WRONG_CODES = 3

# Douglas Crockford's base 32: no I, L, O or U, so that what is read out is typed as it was meant.
_LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_MISREAD = str.maketrans({"O": "0", "I": "1", "L": "1", "-": None, " ": None, "\t": None})
CODE_LETTERS = 16
PICTURE = "HERDSYNC"

Mac = Annotated[bytes, Meta(min_length=32, max_length=32)]
Signature = Annotated[bytes, Meta(min_length=64, max_length=64)]
Seed = Annotated[bytes, Meta(min_length=SEED_BYTES, max_length=SEED_BYTES)]
Moment = Annotated[int, Meta(ge=-CLOCK_MS, le=CLOCK_MS)]


class Asking(Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    """Who asks: the laptop's keys, its keeper, its name, its clock (ms UTC, a claim)."""

    version: int
    key: Key
    seal: Key
    keeper: Name
    device: Name
    asked: Moment


class _Request(Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    asking: bytes
    proof: Signature
    mac: Mac


class _Welcome(Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    version: int
    farm: Key
    founder: Key
    founding: bytes
    admission: Key
    admitter: Key
    mac: Mac


class Pending(Struct, frozen=True):
    """What a laptop that asked keeps until it is welcomed. Holds secrets: never on a carrier."""

    sign_seed: Seed
    seal_seed: Seed
    secret: Annotated[bytes, Meta(min_length=SECRET_BYTES, max_length=SECRET_BYTES)]
    keeper: Name
    device: Name
    asked: Moment

    def key(self) -> SigningKey:
        """The keys that the seeds stand for."""
        return SigningKey(self.sign_seed, self.seal_seed)

    def encode(self) -> bytes:
        """The bytes to keep in a private file."""
        return msgspec.json.encode(self)

    @classmethod
    def decode(cls, raw: bytes) -> Pending:
        """The state kept earlier. Raises BadBytes."""
        try:
            return msgspec.json.decode(raw, type=cls)
        except (msgspec.MsgspecError, ValueError, RecursionError) as fault:
            raise BadBytes(
                "This laptop's own note of its request is damaged.", "Run 'herdsync join' again."
            ) from fault


_asking = msgspec.msgpack.Decoder(Asking)
_request = msgspec.msgpack.Decoder(_Request)
_welcome = msgspec.msgpack.Decoder(_Welcome)


@dataclass(frozen=True, slots=True)
class Request:
    """A request whose keys are sound and whose proof holds; whether its code does is asked apart."""

    asking: Asking
    asking_bytes: bytes
    proof: bytes
    mac: bytes

    @property
    def id(self) -> bytes:
        """32 bytes naming this very request."""
        return hashlib.sha256(TAG_REQUEST + self.asking_bytes + self.mac).digest()

    def admitting(self, role: Role) -> Admitting:
        """The payload of the entry that lets this laptop in."""
        one = self.asking
        return Admitting(
            one.key, one.seal, one.keeper, one.device, role, self.asking_bytes, self.proof
        )


@dataclass(frozen=True, slots=True)
class Welcome:
    """The farm a laptop was let into: its id, its founding entry, the id of the entry that admitted it.

    ``admitter`` is the device key of the laptop that let it in: known by the code before the log tells.
    """

    farm: bytes
    founding: Entry
    admission: bytes
    admitter: bytes


def pend(keeper: str, device: str, asked_ms: int, entropy: Callable[[int], bytes]) -> Pending:
    """Fresh keys and a fresh secret for a laptop that wants in. Raises Refused for an unfit name."""
    for name in (keeper, device):
        if not 1 <= len(name) <= 80:
            raise Refused("A keeper's or laptop's name has 1 to 80 characters.", "Choose another.")
    seeds = entropy(SEED_BYTES), entropy(SEED_BYTES)
    return Pending(*seeds, entropy(SECRET_BYTES), keeper, device, asked_ms)


def code_of(secret: bytes) -> str:
    """The code for a secret: 16 letters in groups of four."""
    number = int.from_bytes(secret, "big")
    letters = [_LETTERS[number >> 5 * place & 31] for place in reversed(range(CODE_LETTERS))]
    return "-".join("".join(letters[at : at + 4]) for at in range(0, CODE_LETTERS, 4))


def secret_of(code: str) -> bytes:
    """The secret for a code as typed: case, blanks, dashes, O for 0 and I or L for 1 do not matter.

    What a picture of the request says (``picture_text``) is taken for the code it ends with. Raises
    Refused where it cannot be a code at all; that is no wrong code and is not counted.
    """
    told = code.upper().split()
    if told and told[0] == PICTURE:
        code = told[-1]
    typed = code.upper().translate(_MISREAD)
    strange = sorted({letter for letter in typed if letter not in _LETTERS})
    if strange or len(typed) != CODE_LETTERS:
        raise Refused(
            f"That is not a code: one has {CODE_LETTERS} letters and digits in groups of four, "
            "without U.",
            "Read it again from the laptop that asks; this was not counted as a wrong code.",
        )
    number = 0
    for letter in typed:
        number = number << 5 | _LETTERS.index(letter)
    return number.to_bytes(SECRET_BYTES, "big")


def picture_text(pending: Pending, where: str) -> str:
    """What a picture (QR) of a request says: where it was left, its tag, its code; ends with the code.

    In capitals, which such a picture holds densest.
    """
    tag = base64.b32encode(joiner_tag(pending.key().public)).decode("ascii")
    return f"{PICTURE} {where.upper()} {tag} {code_of(pending.secret)}"


def joiner_tag(key: bytes) -> bytes:
    """5 bytes naming a laptop that asks, for the names of its request and its welcome."""
    return hashlib.sha256(TAG_JOINER + key).digest()[:JOINER_TAG_BYTES]


def write_request(pending: Pending) -> bytes:
    """The request's bytes, the same each time."""
    key = pending.key()
    asking = canonical.encode(_asking_of(pending))
    proof = key.sign(TAG_ASKING + asking)
    mac = _request_mac(pending.secret, asking, proof)
    return REQUEST_MAGIC + bytes([VERSION]) + canonical.encode(_Request(asking, proof, mac))


def read_request(raw: bytes) -> Request:
    """A request with sound keys and a proof that its laptop holds them. Raises BadBytes."""
    begin = len(REQUEST_MAGIC)
    if not begin < len(raw) <= REQUEST_BYTES or not raw.startswith(REQUEST_MAGIC):
        raise BadBytes("It is not a request to join.")
    # Version 0 had no number here: its next byte began an array.
    _refuse_other_version(raw[begin] if raw[begin] < 0x90 else 0)
    told = typed(_request, raw[begin + 1 :])
    asking = typed(_asking, told.asking)
    _refuse_other_version(asking.version)
    refuse_weak_key(asking.key)
    refuse_weak_seal_key(asking.seal)
    if not verifies(asking.key, told.proof, TAG_ASKING + told.asking):
        raise BadBytes("It was not signed by the laptop it names.")
    return Request(asking, told.asking, told.proof, told.mac)


def code_fits(request: Request, secret: bytes) -> bool:
    """Whether the request was authenticated under this secret."""
    mac = _request_mac(secret, request.asking_bytes, request.proof)
    return hmac.compare_digest(mac, request.mac)


def write_welcome(
    request: Request, secret: bytes, founding: Entry, admission: bytes, admitter: bytes
) -> bytes:
    """The welcome's bytes for a laptop that the laptop ``admitter`` admitted by the entry ``admission``."""
    said = founding.id, founding.header.device, pack(founding), admission, admitter
    mac = _welcome_mac(secret, request.asking_bytes, said)
    told = canonical.encode(_Welcome(VERSION, *said, mac))
    return WELCOME_MAGIC + seal(told, request.asking.seal, TAG_SEALED + request.asking_bytes)


def read_welcome(raw: bytes, pending: Pending) -> Welcome:
    """The farm that let this laptop in, proven under its own secret. Raises BadBytes."""
    if len(raw) > WELCOME_BYTES or not raw.startswith(WELCOME_MAGIC):
        raise BadBytes("It is not a welcome.")
    asking = canonical.encode(_asking_of(pending))
    sealed = raw[len(WELCOME_MAGIC) :]
    told = typed(_welcome, unseal(sealed, pending.key().seal, TAG_SEALED + asking))
    _refuse_other_version(told.version)
    said = told.farm, told.founder, told.founding, told.admission, told.admitter
    mac = _welcome_mac(pending.secret, asking, said)
    if not hmac.compare_digest(mac, told.mac):
        raise BadBytes(
            "It was made by someone who does not have this laptop's code.",
            "Do not trust that carrier. Join again with a new code, read out in person.",
        )
    founding = unpack(told.founding, Place(NO_ID, told.founder, 0, NO_ID))
    founding_of(founding)
    if founding.id != told.farm or not entry_verifies(founding):
        raise BadBytes("It does not hold the founding entry of the farm it names.")
    return Welcome(told.farm, founding, told.admission, told.admitter)


def _asking_of(pending: Pending) -> Asking:
    key = pending.key()
    return Asking(
        VERSION, key.public, key.seal_public, pending.keeper, pending.device, pending.asked
    )


def _refuse_other_version(version: int) -> None:
    if version != VERSION:
        raise BadBytes(
            f"It is of version {version}; this program knows version {VERSION}.",
            "Use the same version of herdsync on both laptops.",
        )


def _request_mac(secret: bytes, asking: bytes, proof: bytes) -> bytes:
    return hmac.digest(secret, TAG_REQUEST + canonical.encode([asking, proof]), "sha256")


def _welcome_mac(secret: bytes, asking: bytes, said: tuple[bytes, ...]) -> bytes:
    return hmac.digest(secret, TAG_WELCOME + canonical.encode([asking, *said]), "sha256")
