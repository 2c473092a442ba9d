"""Pieces of work: what a plan item asks of one animal or pen, counted from which record.

Care counts from the earliest instant told; a disputed anchor says so. Must not know states, skips
or the order of the walk.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

from herdsync.kinds.quantities import amount
from herdsync.merge.records import Record
from herdsync.projections import acts, spans
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.plan import After, AgeWindow, AroundDue, Every, Item, Met
from herdsync.projections.spans import Span
from herdsync.projections.whom import apart, carried, fits
from herdsync.trade.units import plain

Done = tuple[date, Record]


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of work. ``anchors`` are the ids its identity may rest on, the current one first.

    ``part`` tells rungs and chores of one item apart. ``span`` is None where no day can be told.
    ``waits``: it may be done, but is not due before what ``blocks`` says is so.
    """

    item: Item
    part: str
    anchors: tuple[bytes, ...]
    span: Span | None
    reason: str
    blocks: tuple[str, ...] = ()
    waits: bool = False


def pieces(herd: Herd, goat: Goat, item: Item) -> Iterator[Piece]:
    """What an item asks of an animal at the moment, and what lies ahead of it."""
    if not fits(goat, item.whom) or (item.met_if == "apart" and apart(herd, goat)):
        return iter(())
    if item.every is not None:
        return iter(_every(goat, item, item.every))
    if item.window:
        return iter(_window(goat, item))
    if item.after is not None:
        return _after(goat, item, item.after)
    if item.due_date is not None:
        return iter(_around_due(goat, item, item.due_date))
    assert item.season is not None, "chores are laid out with the day, not here"
    return season_pieces(item, doing(goat, item), goat.look.today, goat.look.zone)


def doing(goat: Goat, item: Item, anchor: Record | None = None) -> list[Done]:
    """The acts on record that do an item's work, oldest first."""
    mets = [] if item.met_if else item.by
    found = [done for met in mets for done in _meeting(goat, met, anchor)]
    found += [one for one in goat.done("chore-done") if one[1].value("item") == item.id]
    return sorted(found, key=lambda one: (one[0], one[1].id)) if len(found) > 1 else found


def _meeting(goat: Goat, met: Met, anchor: Record | None) -> list[Done]:
    return [one for one in goat.done(met.kind) if acts.holds_where(one[1], met.where, anchor)]


def every_days(goat: Goat, item: Item, every: Every) -> int:
    """The interval of an item in days, as settings and month have it."""
    settings = goat.look.settings
    if item.setting == "hoof-days":
        return settings.hoof_days
    if every.worm_days is not None and goat.look.today.month in settings.worm_months:
        return every.worm_days
    return every.days


def _every(goat: Goat, item: Item, every: Every) -> list[Piece]:
    days = every_days(goat, item, every)
    done = doing(goat, item)
    if done:
        return [interval_piece(item, every, days, done[-1], goat.look.zone)]
    what = "nothing of it is on record"
    if goat.born is None:
        return [
            Piece(item, "", tuple(goat.record.ids), None, f"{what}, nor a birth date to count from")
        ]
    first = every.first_age_days if every.first_age_days is not None else days
    grace = every.first_grace if every.first_grace is not None else every.grace
    opens = max(0, first - every.open_before)
    span = spans.of_days(goat.born, opens, first, first + grace, None, goat.look.zone, False)
    reason = f"born {acts.when_words(goat.record, goat.look.zone, 'born')}, first at {first} days"
    return [Piece(item, "", tuple(goat.record.ids), span, f"{reason}; {what}")]


def interval_piece(item: Item, every: Every, days: int, last: Done, zone: ZoneInfo) -> Piece:
    """The next time of something done every so many days, counted from the last act."""
    day, act = last
    opens = max(1, days - every.open_before)
    span = spans.of_days(day, opens, days, days + every.grace, None, zone, False)
    reason = f"last done {acts.when_words(act, zone)}, every {days} days"
    return Piece(item, "", tuple(act.ids), span, reason)


def _window(goat: Goat, item: Item) -> list[Piece]:
    window = next((one for one in item.window if one.whom is None or fits(goat, one.whom)), None)
    if window is None or goat.born is None or doing(goat, item):
        return []
    span = _age_span(goat, window)
    unit = "hours" if window.hours else "days"
    born = acts.when_words(goat.record, goat.look.zone, "born")
    reason = f"born {born}, at {window.opens} to {window.closes} {unit} of age"
    lacking = _lacking_weight(goat, window.needs_kg)
    blocks = (lacking,) if lacking else ()
    return [Piece(item, "", tuple(goat.record.ids), span, reason, blocks, bool(lacking))]


def _age_span(goat: Goat, window: AgeWindow) -> Span:
    assert goat.born is not None
    best = window.best if window.best is not None else window.opens
    if not window.hours:
        return spans.of_days(
            goat.born, window.opens, best, window.closes, window.lost, goat.look.zone
        )
    first = goat.born_instant
    latest = acts.last_instant(goat.record, goat.look.zone, "born")
    assert first is not None and latest is not None
    gone = None if window.lost is None else latest + timedelta(hours=window.lost)
    return spans.of_instants(
        first + timedelta(hours=window.opens),
        first + timedelta(hours=best),
        first + timedelta(hours=window.closes),
        gone,
        goat.look.zone,
    )


def _lacking_weight(goat: Goat, needs_kg: str) -> str:
    """What is missing in weight, as a sentence; empty where nothing is."""
    if not needs_kg:
        return ""
    weighed = goat.weight()
    if weighed is None:
        return f"no weight is on record; {needs_kg} kg is needed"
    found = amount(weighed[1].value("weight_kg"), "kg")
    if found >= Fraction(needs_kg):
        return ""
    return f"weighed {plain(found)} kg on {weighed[0]}; {needs_kg} kg is needed"


def _after(goat: Goat, item: Item, after: After) -> Iterator[Piece]:
    followed = [one for one in goat.done(after.kind) if acts.holds_where(one[1], after.where)]
    chosen = {"latest": followed[-1:], "first": followed[:1], "each": followed}[after.which]
    for day, anchor in chosen:
        over = [one for met in after.until for one in _meeting(goat, met, anchor)]
        if any(ended >= day and act.id != anchor.id for ended, act in over):
            continue
        done = [one for one in doing(goat, item, anchor) if one[1].id != anchor.id]
        if after.days:
            yield from _ladder(goat, item, after, (day, anchor), done)
        else:
            yield from _once_after(goat, item, after, (day, anchor), done)


def _once_after(
    goat: Goat, item: Item, after: After, followed: Done, done: Sequence[Done]
) -> Iterator[Piece]:
    day, anchor = followed
    if any((one - day).days >= after.opens for one, _ in done):
        return
    best = after.best if after.best is not None else after.opens
    span = spans.of_days(day, after.opens, best, after.closes, after.lost, goat.look.zone)
    yield Piece(item, "", tuple(anchor.ids), span, _follows(goat, anchor, best))


def _ladder(
    goat: Goat, item: Item, after: After, followed: Done, done: Sequence[Done]
) -> Iterator[Piece]:
    """The rung to look from now, and those ahead; a later rung takes the place of one left out."""
    day, anchor = followed
    opens = rung_opens(after.days)
    today = (goat.look.today - day).days
    seen = max(((one - day).days for one, _ in done), default=-1)
    current = max((n for n, first in enumerate(opens) if first <= today), default=0)
    for place, rung in enumerate(after.days):
        if place < current or seen >= opens[place]:
            continue
        last = place + 1 == len(after.days)
        lost = after.lost if last else None
        span = spans.of_days(day, opens[place], rung, rung, lost, goat.look.zone, False)
        reason = _follows(goat, anchor, rung)
        left_out = sum(1 for first in opens[:place] if first > seen) if place == current else 0
        if left_out:
            reason += f"; {left_out} earlier looks are not on record"
        yield Piece(item, f"-d{rung}", tuple(anchor.ids), span, reason)


def rung_opens(days: Sequence[int]) -> list[int]:
    """The day each rung opens: half-way from the one before, so that one look meets one rung."""
    before = [0, *days[:-1]]
    return [day - (day - earlier) // 2 for day, earlier in zip(days, before, strict=True)]


def _follows(goat: Goat, anchor: Record, day: int) -> str:
    what = anchor.kind.replace("-", " ")
    return f"{what} {acts.when_words(anchor, goat.look.zone)}, day {day} after it"


def _around_due(goat: Goat, item: Item, around: AroundDue) -> list[Piece]:
    carries = carried(goat)
    if carries is None or carries.window is None or carries.service is None:
        return []
    if item.setting == "dry-days":
        dry = goat.look.settings.dry_days
        around = AroundDue(opens=-dry, best=-dry, closes=min(-14, 15 - dry), lost=around.lost)
    window = carries.window
    due = window.best if window.best is not None else window.opens
    bases = {"due": due, "earliest": window.opens, "latest": window.closes}
    opens = bases[around.opens_from] + timedelta(days=around.opens)
    if any(day >= max(opens, carries.service) for day, _ in doing(goat, item)):
        return []
    best = max(opens, bases[around.best_from] + timedelta(days=around.best))
    closes = max(best, bases[around.closes_from] + timedelta(days=around.closes))
    lost = None if around.lost is None else (due - opens).days + around.lost
    span = spans.of_days(opens, 0, (best - opens).days, (closes - opens).days, lost, goat.look.zone)
    reason = f"due {due.isoformat()}: {carries.reason}"
    return [Piece(item, "", tuple(carries.anchor.ids), span, reason)]


def season_pieces(item: Item, done: Sequence[Done], today: date, zone: ZoneInfo) -> Iterator[Piece]:
    """This year's (or the last begun) season of an item, and the next one."""
    assert item.season is not None
    begun = None
    for year in range(today.year - 1, today.year + 2):
        opens = _day_of_year(year, item.season.opens)
        closes = _day_of_year(year, item.season.closes)
        if closes < opens:
            closes = _day_of_year(year + 1, item.season.closes)
        length = (closes - opens).days
        span = spans.of_days(opens, 0, 0, length, length, zone)
        reason = f"every year from {item.season.opens} to {item.season.closes}"
        piece = Piece(item, "", (f"season of {year}".encode(),), span, reason)
        if opens > today:
            if begun is not None:
                yield begun
            yield piece
            return
        met = any(opens <= day <= closes for day, _ in done)
        over = today > closes + timedelta(days=item.missed_days)
        begun = None if met or over else piece


def _day_of_year(year: int, text: str) -> date:
    """A day of the year; one the year lacks (29 February) is the first after it."""
    month, day = int(text[:2]), int(text[3:])
    try:
        return date(year, month, day)
    except ValueError:
        return date(year, month, 1).replace(day=28) + timedelta(days=1)


def with_blocks(piece: Piece, blocks: Sequence[str]) -> Piece:
    """The piece with more that stands in its way or beside it."""
    return replace(piece, blocks=(*piece.blocks, *blocks)) if blocks else piece
