"""One piece of work in words: its line, its identity, and what to fill in when it is recorded.

Must not know which work is shown or in what order.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence

from msgspec import Struct

from herdsync.answers import DueLine, Hold
from herdsync.kinds import CATALOGUE
from herdsync.kinds.ids import text_id
from herdsync.log import canonical
from herdsync.merge.records import Record
from herdsync.merge.shelf import WHOLE_FARM
from herdsync.projections import moments, spans
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.holds import WORDS
from herdsync.projections.law_notes import law_note
from herdsync.projections.piece import Piece
from herdsync.projections.plan_items import Item
from herdsync.projections.whom import carried

TAG_WORK = b"herdsync/1/due\0"
WORK_ID_BYTES = 16
THE_FARM = "Whole farm"
_FARM = (WHOLE_FARM,)
UNREADABLE = "an entry this program cannot read may bear on it"


class Told(Struct, frozen=True, array_like=True, gc=False):
    """A line with every id its work ever had, before keepers' words on it are heard."""

    ids: tuple[str, ...]
    line: DueLine


def told(
    herd: Herd,
    piece: Piece,
    subject: Record | None,
    goat: Goat | None,
    state: str,
    holds: Sequence[Hold],
) -> Told:
    """The line of a piece of work in a state; ``holds`` are those on the animal.

    ``subject``: the animal or pen; None for the whole farm.
    """
    item, span = piece.item, piece.span
    ids = work_ids(_FARM if subject is None else subject.ids, piece)
    running = [hold for hold in holds if hold.what in words_of(item)] if holds else []
    best = span.best_text if span is not None else ""
    if goat is not None:
        animal, name, pen = goat.text_id, goat.name, herd.pen_name(goat)
    else:
        animal, name = "", THE_FARM if subject is None else herd.look.names.of(subject)
        pen = name
    line = DueLine(
        id=ids[0],
        animal=animal,
        name=name,
        pen=pen,
        item=f"{item.id}{piece.part}",
        work=item.held_work if running and item.held_work else item.work,
        kind=item.kind,
        state=state,
        opens=span.opens_text if span is not None else "",
        best=best,
        closes=span.closes_text if span is not None else "",
        due=best,
        reason=_reason(piece, state),
        caution=item.warning,
        blocks=_blocks(piece, goat, running),
        subject=animal or ("" if subject is None else text_id(subject.id)),
        law=law_note(item.law, goat, herd.look) if item.law else "",
        source=item.source,
        preset=preset(piece),
    )
    return Told(tuple(ids), line)


def _reason(piece: Piece, state: str) -> str:
    says = f"; {piece.item.says}" if piece.item.says and not piece.spared else ""
    unknown = f"; {UNREADABLE}" if state == spans.UNKNOWN else ""
    return piece.words + says + unknown


def _blocks(piece: Piece, goat: Goat | None, running: Sequence[Hold]) -> list[str]:
    """What stands in the way of a piece of work, or beside it."""
    gently = _gently(piece.item, goat) if piece.item.gentle_days is not None else []
    return [*piece.blocks, *gently, *map(hold_words, running)]


def _gently(item: Item, goat: Goat | None) -> list[str]:
    """A word of care for a doe near her time, where the item has one."""
    carries = carried(goat) if goat is not None and item.gentle_days is not None else None
    if carries is None or carries.window is None or goat is None or item.gentle_days is None:
        return []
    due = carries.window.best or carries.window.opens
    if (due - goat.look.today).days > item.gentle_days:
        return []
    return [f"she is due {due.isoformat()}: {item.gentle}"]


def words_of(item: Item) -> set[str]:
    """The holds, in their words, that bar an item or are told beside it."""
    return {WORDS[name] for name in item.heeded}


def work_ids(subjects: Sequence[bytes], piece: Piece) -> list[str]:
    """The ids of a piece of work: the current one, then those it had before records were joined."""
    name = f"{piece.item.id}{piece.part}"
    return [_work_id(subject, name, anchor) for subject in subjects for anchor in piece.anchors]


def _work_id(subject: bytes, name: str, anchor: bytes) -> str:
    told = TAG_WORK + canonical.encode([subject, name, anchor])
    return text_id(hashlib.sha256(told).digest()[:WORK_ID_BYTES])


def preset(piece: Piece) -> dict[str, str]:
    """Field values to fill in beforehand when the work is recorded, as text a keeper could type."""
    item = piece.item
    found = dict(item.preset)
    if item.chore and item.by and "milking" in CATALOGUE[item.kind].fields:
        found["milking"] = piece.part.removeprefix("-")
    return found


def hold_words(hold: Hold) -> str:
    """A hold in one line: what, until when."""
    return f"{hold.what} until {until_words(hold)}: {hold.reason}"


def until_words(hold: Hold) -> str:
    """Until when a hold runs, as a keeper reads it."""
    return moments.moment_words(hold.until) or "nobody knows when"


_URGENCY = {
    spans.UNKNOWN: 0, spans.LATE: 1, spans.CLOSING: 2, spans.DUE: 3, spans.OPEN: 4,
    spans.BARRED: 5, spans.PUT_OFF: 6, spans.MISSED: 7, spans.AHEAD: 8,
}  # fmt: skip


def pressing(line: DueLine) -> tuple[int, str, str, str]:
    """The order of lines of one animal or pen, most pressing first."""
    return _URGENCY[line.state], line.due, line.item, line.id


def ordered(found: Iterable[Told]) -> list[Told]:
    """What was told of one animal or pen, most pressing first."""
    return sorted(found, key=lambda one: pressing(one.line))
