"""What a keeper should know the moment an act is written: caution, the trade's word, holds, conflicts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import timedelta

from herdsync.kinds import CATALOGUE
from herdsync.kinds.ids import text_id
from herdsync.kinds.medicine import MEDICINES
from herdsync.merge.records import Record
from herdsync.merge.shelf import Shelf
from herdsync.projections import moments
from herdsync.projections.acts import first_instant, last_instant
from herdsync.projections.due import Rounds, hold_words
from herdsync.projections.exposure import would_meet
from herdsync.projections.farm_items import plan_in_force
from herdsync.projections.goat import Goat
from herdsync.projections.heads import counted_heads
from herdsync.projections.look import Look
from herdsync.projections.remarks import remarks

_HOLDING = (*MEDICINES, "kidding")
# Work is written down while it is done: common practice, no published source.
_AHEAD = timedelta(hours=1)


def warnings(rounds: Rounds, shelf: Shelf, ids: list[bytes]) -> list[str]:
    """Sentences on the records just written, each once, the caution first."""
    found: dict[str, None] = {}
    for id in ids:
        record = shelf.get(id)
        if record is None or record.kind not in CATALOGUE:
            continue
        goat = _subject(rounds, record)
        told = [*_caution(record)]
        if record.stands:
            told += _dated_ahead(rounds.herd.look, record)
            told += _before_birth(goat, record) if goat is not None else ()
            told += _after_work(rounds, record, goat) if goat is not None else ()
            told += remarks(rounds.herd, record, goat)
        told += _of_goat(rounds, record, goat) if goat is not None else _of_farm(rounds, record)
        conflicts = shelf.conflicts_with(record.id)
        told += [one.says for one in conflicts if one.says and one.open]
        found.update(dict.fromkeys(told))
    return list(found)


def _caution(record: Record) -> Iterator[str]:
    caution = CATALOGUE[record.kind].caution
    if caution and record.stands:
        yield caution


def _after_work(rounds: Rounds, record: Record, goat: Goat) -> Iterator[str]:
    """What the plan bids beware of in a look after a procedure, as that was last done."""
    of = record.value("of") if record.kind == "check" else None
    for item in rounds.plan.items if of else ():
        after = item.after
        if after is None or after.kind != of or item.kind != "check" or not item.caution:
            continue
        if goat.past.latest(after.kind, after.where) is not None:
            yield item.caution


def _dated_ahead(look: Look, record: Record) -> Iterator[str]:
    """Whether an act or a birth was given a time that is still to come: most likely a slip."""
    kind = CATALOGUE[record.kind]
    birth = record.kind == "animal"
    field = "born" if birth else kind.on
    begins = first_instant(record, look.zone, field) if field else None
    if begins is not None and begins > look.moment + _AHEAD:
        what = "birth" if birth else kind.title
        yield (
            f"The date of this {what} lies ahead ({moments.said(begins, look.zone)}): is it right? "
            "Until then it counts for holds alone."
        )


def _before_birth(goat: Goat, record: Record) -> Iterator[str]:
    """Whether an act was given a time before its animal was born: most likely a slip of the year."""
    born, last = goat.born_instant, last_instant(record, goat.look.zone)
    if CATALOGUE[record.kind].on and born is not None and last is not None and last < born:
        title = CATALOGUE[record.kind].title
        yield (
            f"The date of this {title} ({moments.said(last, goat.look.zone)[:10]}) lies before "
            f"{goat.name} was born: is it right?"
        )


def _subject(rounds: Rounds, record: Record) -> Goat | None:
    """The animal a record is about."""
    field = CATALOGUE[record.kind].subject
    id = record.value(field) if field else None
    return rounds.herd.goat(id) if isinstance(id, bytes) else None


def _of_goat(rounds: Rounds, record: Record, goat: Goat) -> Iterator[str]:
    """Holds a medicine brings, and whom a move brings together."""
    if record.kind in _HOLDING and goat.gone is None:
        look = rounds.herd.look
        now = moments.text(look.moment, look.zone)
        # A label that says zero holds nothing beyond the moment itself.
        running = [hold for hold in rounds.holds_of(goat) if hold.until != now]
        yield from (f"{goat.name}: {hold_words(hold)}." for hold in running)
    if record.kind == "pen-move":
        yield from _meets(rounds, record, goat)


def _of_farm(rounds: Rounds, record: Record) -> Iterator[str]:
    """What a plan item just written makes due, or why it or the plan does not count as told.

    Of heads counted: whether the records put as many into the pen.
    """
    if record.kind == "counted-heads":
        yield from (
            f"{one.says}." for one in counted_heads(rounds.herd) if one.id == text_id(record.id)
        )
    if record.kind == "setting" and str(record.value("key")).startswith("plan"):
        yield from plan_in_force(rounds.herd.records, rounds.herd.look.settings).faults
    if record.kind != "plan-item":
        return
    item = str(record.value("item"))
    found = plan_in_force(rounds.herd.records, rounds.herd.look.settings)
    faults = [fault for fault in found.faults if repr(item) in fault]
    yield from faults
    if not faults and record.stands and not record.value("retired"):
        states = Counter(line.state for line in rounds.lines() if line.item == item)
        told = ", ".join(f"{count} {state}" for state, count in sorted(states.items()))
        yield f"Of this item there is now: {told or 'nothing open'}."


def _meets(rounds: Rounds, move: Record, goat: Goat) -> Iterator[str]:
    at = last_instant(move, rounds.herd.look.zone)
    pen = move.value("pen")
    if at is not None and isinstance(pen, bytes):
        met = would_meet(rounds.herd, goat, pen, at)
        yield from (f"{one}." for one in met)
        if met:
            yield (
                "Where they were together, write a mating (how=pen) of each doe: watching, tests and the "
                "kidding are counted from that alone; 'herdsync exposures' tells the days."
            )
