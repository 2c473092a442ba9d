"""Sides of a farm that seal nothing to each other: noticed, told, and joined again with the recovery words.

It comes of recovery words used on two laptops apart: each side knows its own new laptops alone, and seals to
these. A bundle of this farm that is closed to this laptop, but open to one of which this laptop has never
heard, was written by such a side: as long as one steward follows another, whoever knows of a later laptop
knows of this one too. A laptop that was put out sees the same; and as nobody can tell what is closed, so can
whoever holds the carrier feign it. Every true bundle is sealed to the words as well: they tell.
Must not know which carrier it is, nor how the log is stored.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import msgspec

from herdsync.exchange.ledger import Ledger
from herdsync.exchange.sealing import recipient_tag
from herdsync.log.signing import SigningKey
from herdsync.meetings import Notice

# What stands in place of a role for a laptop that another side let in.
APART = "apart"
ANOTHER_SIDE = "another side of this farm"
# So many are kept in mind; more than a farm has laptops.
STRANGERS = 64
_NOTE = "apart"
_FEIGNED = "apart-feigned"
_tags = msgspec.msgpack.Decoder(list[bytes])


class Opening:
    """A ledger whose bundles are opened with another key than its own: the recovery words'."""

    def __init__(self, ledger: Ledger, key: SigningKey) -> None:
        self._ledger = ledger
        self.key = key

    def __getattr__(self, name: str) -> Any:
        return getattr(self._ledger, name)


def note_closed(ledger: Ledger, readers: Iterable[bytes]) -> None:
    """Keep in mind to whom bundles of this farm are sealed (tags) that are closed to this laptop."""
    if ledger.key.public not in ledger.members().known:
        # What lay there before this laptop came is not meant for it.
        return
    found = sorted({*strangers(ledger), *_unheard_of(ledger, readers)})
    ledger.note(_NOTE, msgspec.msgpack.encode(found[:STRANGERS]))


def strangers(ledger: Ledger) -> list[bytes]:
    """The tags of laptops that others of this farm seal to and this one has never heard of."""
    return sorted(_unheard_of(ledger, _noted(ledger, _NOTE)))


def disprove(ledger: Ledger) -> None:
    """Once the recovery words opened all they open: who is still not heard of is feigned."""
    feigned = [*_noted(ledger, _FEIGNED), *strangers(ledger)]
    ledger.note(_FEIGNED, msgspec.msgpack.encode(feigned[-STRANGERS:]))
    ledger.note(_NOTE, msgspec.msgpack.encode([]))


def _noted(ledger: Ledger, name: str) -> list[bytes]:
    note = ledger.noted(name)
    return _tags.decode(note) if note is not None else []


def _unheard_of(ledger: Ledger, tags: Iterable[bytes]) -> set[bytes]:
    known = {recipient_tag(ledger.farm, one) for one in ledger.members().sealed_to}
    return set(tags) - known - set(_noted(ledger, _FEIGNED))


def apart(ledger: Ledger) -> list[Notice]:
    """A sentence where there is another side of this farm; none otherwise."""
    count = len(strangers(ledger))
    return [Notice(ANOTHER_SIDE, why_apart(count))] if count else []


def why_apart(count: int) -> str:
    """What another side with so many laptops not heard of means, and the way out."""
    laptops = "a laptop" if count == 1 else f"{count} laptops"
    return (
        f"It seals to {laptops} this one has never heard of, and not to this one: the recovery words were "
        "used on two laptops apart, this one was put out, or who holds the carrier feigns it. Nothing is "
        "lost. Where the words were used, exchange on both over one carrier, then run 'herdsync exchange "
        "CARRIER --words @FILE' with them on one, and exchange on both once more."
    )
