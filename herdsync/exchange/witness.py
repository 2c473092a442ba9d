"""What other laptops and carriers bear witness to: who has what is here, and what a carrier keeps back.

Nothing is guessed from this laptop's clock: what counts is what others have signed, and how much was
written since. Must not read or write any carrier.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

import msgspec
from msgspec import Struct

from herdsync.exchange.coverage import uncovered
from herdsync.exchange.frontier import path_to
from herdsync.exchange.ledger import Ledger
from herdsync.exchange.names import note_name
from herdsync.exchange.sealing import recipient_tag, sound_seal_keys
from herdsync.log.trust import Member
from herdsync.meetings import Notice
from herdsync.safe_text import safe_text
from herdsync.store.carried import Run, Sighting

# So many entries written without a word from a laptop are worth a sentence, and each doubling of them.
SILENT_ENTRIES = 100

COPIES_MENDED = (
    "Nothing is lost, all of it counts. The steward puts that laptop out ('herdsync remove'), and it joins "
    "afresh into another folder; where it is the steward's own, the stewardship is handed over first."
)

_counters = msgspec.json.Decoder(dict[str, int])
Reach = dict[int, int]


class Witness(Struct, frozen=True):
    """How well what is on this laptop is known elsewhere, in entries.

    ``lacks``: per other laptop of the farm, how many it is not known to have. ``only_here``: how many no
    other is known to have. ``left``: how many of those lie sealed on a carrier, as far as remembered.
    """

    lacks: dict[bytes, int]
    only_here: int
    left: int

    @property
    def safe_to_lose(self) -> bool:
        """Whether everything here is also on another laptop of the farm."""
        return self.only_here == 0


def witness(ledger: Ledger) -> Witness:
    """What is known of who has what is here."""
    runs = {run.chain: run for run in ledger.runs()}
    heard = ledger.last_heard()
    everyone: Reach = {}
    lacks: dict[bytes, int] = {}
    for device in _others(ledger):
        reach: Reach = {}
        for _, _, tip in heard[device][1] if device in heard else []:
            _raise(reach, path_to(ledger, runs, tip))
        _raise(everyone, reach)
        lacks[device] = _beyond(runs.values(), reach)
    only = _beyond(runs.values(), everyone)
    return Witness(lacks, only, _left(ledger, runs, everyone) if only else 0)


def _others(ledger: Ledger) -> list[bytes]:
    return [key for key in ledger.members().by_key if key != ledger.key.public]


def _raise(reach: Reach, other: Reach) -> None:
    for chain, last in other.items():
        reach[chain] = max(last, reach.get(chain, -1))


def _beyond(runs: Iterable[Run], reach: Reach) -> int:
    """How many entries of these runs lie beyond a reach."""
    return sum(max(0, run.last - max(run.first - 1, reach.get(run.chain, -1))) for run in runs)


def _left(ledger: Ledger, runs: dict[int, Run], known: Reach) -> int:
    """How many entries beyond a reach lie in a sound bundle that this laptop wrote or read."""
    keys = sound_seal_keys(ledger.members().recipients())
    readers = {recipient_tag(ledger.farm, one) for one in keys}
    missing = uncovered(ledger, ledger.sightings(), readers)
    return _beyond(runs.values(), known) - _beyond(missing, known)


def gaps(ledger: Ledger) -> list[Notice]:
    """A sentence for each laptop that had entries, when last heard, which have not come here."""
    reached: dict[bytes, int] = {}
    for run in ledger.runs():
        reached[run.device] = max(run.last, reached.get(run.device, -1))
    members = ledger.members().by_key
    notices = []
    for device, (_, frontier) in sorted(ledger.last_heard().items()):
        count = sum(
            max(1, sequence - reached.get(writer, -1))
            for writer, sequence, tip in frontier
            if writer in members and ledger.place_of(tip) is None
        )
        if count and device in members:
            why = (
                f"When last heard it had {_entries(count)} more than are here: something is missing from "
                "the carrier, or it shows an older state. Let that laptop exchange here again."
            )
            notices.append(Notice(f"laptop {safe_text(members[device].device)}", why))
    return notices


def going_back(ledger: Ledger, known_as: str, present: Iterable[Sighting]) -> list[Notice]:
    """A sentence for each laptop whose newest bundle seen on this carrier before is not there now.

    ``known_as`` means the carrier from one exchange to the next; what is there now is remembered.
    """
    name = note_name("shelf", known_as)
    note = ledger.noted(name)
    before = _counters.decode(note) if note is not None else {}
    now: dict[str, int] = {}
    for one in present:
        writer = one.writer.hex()
        now[writer] = max(one.counter, now.get(writer, -1))
    ledger.note(name, msgspec.json.encode(now, order="sorted"))
    known = ledger.members().known
    notices = []
    for writer, counter in sorted(before.items()):
        member = known.get(bytes.fromhex(writer))
        if now.get(writer, -1) < counter and member is not None:
            newest = f"up to {now[writer]}" if writer in now else "none"
            why = (
                f"Its bundles up to number {counter} were there at the last exchange, now {newest}: the "
                "carrier shows an older state or is another one, or its stick is not plugged in. What was "
                "taken is kept, and is left anew."
            )
            notices.append(Notice(_name(member), why))
    return notices


def silences(ledger: Ledger, lacks: dict[bytes, int]) -> list[Notice]:
    """A sentence for each laptop that was not heard of while a good deal was written, now and then."""
    note = ledger.noted("silence")
    told = _counters.decode(note) if note is not None else {}
    members = ledger.members().by_key
    heard = ledger.last_heard()
    now: dict[str, int] = {}
    notices = []
    for device, count in sorted(lacks.items()):
        earlier = told.get(device.hex(), 0)
        if count < SILENT_ENTRIES:
            continue
        now[device.hex()] = earlier or count
        if not earlier or count >= 2 * earlier:
            now[device.hex()] = count
            since = "since it was last heard" if device in heard else "since it was let in"
            why = (
                f"Nothing has been heard of it {since} while {_entries(count)} were written that it is "
                "not known to have. Ask whether it has exchanged."
            )
            notices.append(Notice(_name(members[device]), why))
    ledger.note("silence", msgspec.json.encode(now, order="sorted"))
    return notices


def copies(ledger: Ledger) -> list[Notice]:
    """A sentence for each laptop of the farm whose log continued in several copies, until it is put out."""
    chains = Counter(run.device for run in ledger.runs())
    members = ledger.members().by_key
    return [
        Notice(_name(members[device]), why_copies(count))
        for device, count in sorted(chains.items())
        if count > 1 and device in members
    ]


def why_copies(count: int) -> str:
    """What a log that continued in so many copies means, and the way out."""
    return (
        f"Its log continued in {count} copies: its folder and key were copied, and both wrote on. "
        f"{COPIES_MENDED}"
    )


def _name(member: Member) -> str:
    return f"laptop {safe_text(member.device)}"


def _entries(count: int) -> str:
    return "1 entry" if count == 1 else f"{count} entries"
