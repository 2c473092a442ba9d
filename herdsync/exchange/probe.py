"""Finding out by trying what a depot promises, before anything of the farm is left there.

Only files that the probe itself made, under names nobody else uses, are written or deleted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import msgspec
from msgspec import Struct

from herdsync.faults import BadBytes, Refused
from herdsync.safe_text import safe_text

if TYPE_CHECKING:
    from herdsync.exchange.depot import Store

_NAME_BYTES = 8
_SIZES = (0, 1, 5_000)


class Guarantees(Struct, frozen=True):
    """What a depot was found to promise."""

    # A name that is taken is never written over, not even by one who did not look first.
    create_once: bool
    # What was written is listed at once, with its size.
    lists_at_once: bool
    # A file can be taken away again.
    deletes: bool

    def missing(self) -> Iterator[str]:
        """A sentence for each promise that does not hold, and what is done about it."""
        if not self.create_once:
            yield (
                "It does not keep a name from being written over, so each name is looked up first "
                "and what was written is read back; two copies of one laptop must not write there "
                "at the same time."
            )
        if not self.lists_at_once:
            yield "It lists new files late, so a partner's entries may come one exchange later."
        if not self.deletes:
            yield "It does not let files be taken away, so small bundles are never joined there."


def probe(store: Store, entropy: Callable[[int], bytes]) -> Guarantees:
    """What this depot promises. Raises Refused where it does not even give back what it was given."""
    name = f"probe-{entropy(_NAME_BYTES).hex()}"
    first, second = entropy(_SIZES[-1]), entropy(_SIZES[1])
    try:
        if not store.put(name, first) or store.part(name, 0, len(first) + 1) != first:
            raise _unfit(store)
        if store.part(name, 10, 20) != first[10:30] or store.part(f"{name}-none", 0, 1) is not None:
            raise _unfit(store)
        listed = store.listing(1_000_000).get(name) == len(first)
        try:
            taken = store.put(name, second)
        except Refused:
            taken = False
        once = not taken and store.part(name, 0, len(first) + 1) == first
    finally:
        deletes = _deleted(store, name)
    return Guarantees(once, listed, deletes)


def _deleted(store: Store, name: str) -> bool:
    try:
        store.delete(name)
        return store.part(name, 0, 1) is None
    except Refused:
        return False


def _unfit(store: Store) -> Refused:
    return Refused(
        f"{safe_text(store.where)} does not give back what it was given.",
        "It cannot serve as a depot; nothing of the farm was left there.",
    )


def told(guarantees: Guarantees) -> bytes:
    """What was found, as a note to keep."""
    return msgspec.json.encode(guarantees)


def remembered(note: bytes) -> Guarantees:
    """What was found earlier. Raises BadBytes."""
    try:
        return msgspec.json.decode(note, type=Guarantees)
    except (msgspec.MsgspecError, UnicodeError) as fault:
        raise BadBytes("This laptop's note of a depot is damaged.") from fault
