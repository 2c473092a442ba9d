"""Pieces of work: what a plan item asks of one animal or pen, counted from which record.

Care counts from the earliest instant told; a disputed anchor says so. Must not know states, skips
or the order of the walk.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date, timedelta
from fractions import Fraction
from functools import partial
from zoneinfo import ZoneInfo

from msgspec import Struct

from herdsync.kinds import CATALOGUE
from herdsync.kinds.quantities import amount
from herdsync.merge.records import Record
from herdsync.projections import acts, spans
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.look import Look
from herdsync.projections.past import Done, Past
from herdsync.projections.plan import (
    APART,
    TATTOOED,
    After,
    AgeWindow,
    AroundDue,
    Every,
    Item,
    Season,
)
from herdsync.projections.spans import Span
from herdsync.projections.unrecorded import UNRECORDED, known_since, long_ago
from herdsync.projections.verdicts import spared_words
from herdsync.projections.whom import apart, carried, fits, tattooed
from herdsync.trade.units import plain

Reason = str | Callable[[], str]


class Piece(Struct, frozen=True):
    """One piece of work. ``anchors`` are the ids its identity may rest on, the current one first.

    ``part`` tells rungs and chores of one item apart. ``span`` is None where no day can be told.
    ``waits``: it may be done, but is not due before what ``blocks`` says is so. A reason that is
    a function is asked only for lines that are told.
    """

    item: Item
    part: str
    anchors: tuple[bytes, ...]
    span: Span | None
    reason: Reason
    blocks: tuple[str, ...] = ()
    waits: bool = False
    spared: bool = False

    @property
    def words(self) -> str:
        """What it counts from, as a sentence."""
        return self.reason if isinstance(self.reason, str) else self.reason()


def pieces(herd: Herd, goat: Goat, item: Item) -> Iterable[Piece]:
    """What an item asks of an animal at the moment, and what lies ahead of it."""
    return asked(herd, goat, item) if fits(goat, item.whom) else ()


def asked(herd: Herd, goat: Goat, item: Item, long_gone: bool = True) -> Iterable[Piece]:
    """The same of an animal that the item is known to fit; not what was ``long_gone`` if not asked."""
    if item.met_if and _FACTS[item.met_if](herd, goat):
        return ()
    if item.every is not None:
        return (_every(goat, item, item.every),)
    if item.window:
        return _window(goat, item)
    if item.after is not None:
        return _after(goat, item, item.after, long_gone)
    if item.due_date is not None:
        return _around_due(goat, item, item.due_date)
    assert item.season is not None, "chores are laid out with the day, not here"
    return season_pieces(item, item.season, partial(done_within, goat.past, item), goat.look)


_FACTS: dict[str, Callable[[Herd, Goat], bool]] = {
    APART: apart,
    TATTOOED: lambda _, goat: tattooed(goat),
}


def doing(goat: Goat, item: Item, anchor: Record | None = None) -> list[Done]:
    """The latest act of each way to do an item's work, oldest first; empty where none is on record."""
    last = last_doing(goat, item, anchor)
    return [] if last is None else [last]


def last_doing(
    goat: Goat, item: Item, anchor: Record | None = None, since: date = date.min
) -> Done | None:
    """The latest act on record from a day on that does an item's work; never its own anchor."""
    found = next(goat.past.chores(item.id, since), None)
    but = b"" if anchor is None else anchor.id
    for met in () if item.met_if == APART else item.by:
        done = goat.past.latest(met.kind, met.where, anchor, but, since)
        if done is not None and (found is None or _order(done) > _order(found)):
            found = done
    return found


def _order(done: Done) -> tuple[date, bytes]:
    return done[0], done[1].id


def done_within(past: Past, item: Item, first: date, last: date) -> bool:
    """Whether an item was done from one day to another."""
    return any(day <= last for day, _ in past.chores(item.id, first)) or any(
        day <= last and acts.holds_where(act, met.where)
        for met in item.by
        for day, act in past.newest(met.kind, first)
    )


def every_days(goat: Goat, item: Item, every: Every) -> int:
    """The interval of an item in days, as settings and month have it."""
    settings = goat.look.settings
    if item.setting == "hoof-days":
        return settings.hoof_days
    if every.worm_days is not None and goat.look.today.month in settings.worm_months:
        return every.worm_days
    return every.days


def _every(goat: Goat, item: Item, every: Every) -> Piece:
    days = every_days(goat, item, every)
    last = last_doing(goat, item)
    zone = goat.look.zone
    if last is not None:
        return interval_piece(item, every, days, last, zone)
    ids = tuple(goat.record.ids)
    if goat.born is None:
        words = f"{UNRECORDED}, nor a birth date to count from"
        return Piece(item, "", ids, spans.since(known_since(goat), zone), words)
    first = every.first_age_days if every.first_age_days is not None else days
    grace = every.first_grace if every.first_grace is not None else every.grace
    if long_ago(goat, goat.born + timedelta(days=first), max(days, grace)):
        since = spans.since(known_since(goat), zone)
        return Piece(item, "", ids, since, partial(_unrecorded, goat, first))
    opens = max(0, first - every.open_before)
    span = spans.of_days(goat.born, opens, first, first + grace, None, zone, False)
    return Piece(item, "", ids, span, partial(_first_time, goat, first))


def _unrecorded(goat: Goat, first: int) -> str:
    return f"{UNRECORDED}; {_born(goat)}, its first time was at {first} days of age"


def _first_time(goat: Goat, first: int) -> str:
    return f"{_born(goat)}, first at {first} days of age; {UNRECORDED}"


def _born(goat: Goat) -> str:
    return f"born {acts.when_words(goat.record, goat.look.zone, 'born')}"


def interval_piece(item: Item, every: Every, days: int, last: Done, zone: ZoneInfo) -> Piece:
    """The next time of something done every so many days, counted from the last act."""
    day, act = last
    opens = max(1, days - every.open_before)
    span = spans.of_days(day, opens, days, days + every.grace, None, zone, False)
    return Piece(item, "", tuple(act.ids), span, partial(_again, act, days, zone))


def _again(act: Record, days: int, zone: ZoneInfo) -> str:
    return f"last done {acts.when_words(act, zone)}, every {days} days"


def _window(goat: Goat, item: Item) -> Iterable[Piece]:
    if goat.born is None:
        return ()
    window = next((one for one in item.window if one.whom is None or fits(goat, one.whom)), None)
    if window is None or last_doing(goat, item) is not None:
        return ()
    ids = tuple(goat.record.ids)
    length = window.closes - window.opens + 1
    unrecorded = window.lost is None and not window.hours and item.met_if != APART
    if unrecorded and long_ago(goat, goat.born + timedelta(days=window.closes), length):
        span: Span = spans.since(known_since(goat), goat.look.zone)
    else:
        span, unrecorded = _age_span(goat, window), False
    lacking = _lacking_weight(goat, window.needs_kg)
    blocks = (lacking,) if lacking else ()
    reason = partial(_at_age, goat, window, unrecorded)
    return (Piece(item, "", ids, span, reason, blocks, bool(lacking)),)


def _at_age(goat: Goat, window: AgeWindow, unrecorded: bool) -> str:
    unit = "hours" if window.hours else "days"
    told = f"{_born(goat)}, at {window.opens} to {window.closes} {unit} of age"
    return f"{UNRECORDED}; {told}" if unrecorded else told


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


def _after(goat: Goat, item: Item, after: After, long_gone: bool) -> Iterator[Piece]:
    since = date.min
    if after.lost is not None and not long_gone:
        since = goat.look.today - timedelta(days=after.lost + item.missed_days)
    for day, anchor in _followed(goat, after, since):
        if _ended(goat, after, day, anchor):
            continue
        if after.days:
            yield from _ladder(
                goat, item, after, (day, anchor), last_doing(goat, item, anchor, day)
            )
        elif last_doing(goat, item, anchor, day + timedelta(days=after.opens)) is None:
            best = after.best if after.best is not None else after.opens
            span = spans.of_days(day, after.opens, best, after.closes, after.lost, goat.look.zone)
            yield Piece(item, "", tuple(anchor.ids), span, partial(_follows, goat, anchor, best))


def _followed(goat: Goat, after: After, since: date) -> list[Done]:
    """The acts from a day on that an item follows: the latest, the first of all, or each."""
    if after.which == "latest":
        last = goat.past.latest(after.kind, after.where, since=since)
        return [] if last is None else [last]
    every = [one for one in goat.done(after.kind) if acts.holds_where(one[1], after.where)]
    chosen = every[:1] if after.which == "first" else every
    return [one for one in chosen if one[0] >= since]


def _ended(goat: Goat, after: After, day: date, anchor: Record) -> bool:
    return any(
        goat.past.latest(met.kind, met.where, anchor, anchor.id, day) is not None
        for met in after.until
    )


def _ladder(
    goat: Goat, item: Item, after: After, followed: Done, looked: Done | None
) -> Iterator[Piece]:
    """The rung to look from now, and those ahead; a later rung takes the place of one left out."""
    day, anchor = followed
    opens = rung_opens(after.days)
    today = (goat.look.today - day).days
    seen = -1 if looked is None else (looked[0] - day).days
    current = max((n for n, first in enumerate(opens) if first <= today), default=0)
    for place, rung in enumerate(after.days):
        if place < current or seen >= opens[place]:
            continue
        last = place + 1 == len(after.days)
        lost = after.lost if last else None
        span = spans.of_days(day, opens[place], rung, rung, lost, goat.look.zone, False)
        left_out = sum(1 for first in opens[:place] if first > seen) if place == current else 0
        reason = partial(_follows, goat, anchor, rung, left_out)
        yield Piece(item, f"-d{rung}", tuple(anchor.ids), span, reason)


def rung_opens(days: Sequence[int]) -> list[int]:
    """The day each rung opens: half-way from the one before, so that one look meets one rung."""
    before = [0, *days[:-1]]
    return [day - (day - earlier) // 2 for day, earlier in zip(days, before, strict=True)]


def _follows(goat: Goat, anchor: Record, day: int, left_out: int = 0) -> str:
    what = CATALOGUE[anchor.kind].title
    told = f"day {day} after the {what} of {acts.when_words(anchor, goat.look.zone)}"
    if not left_out:
        return told
    looks = "one earlier look is" if left_out == 1 else f"{left_out} earlier looks are"
    return f"{told}; {looks} not on record"


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
    if last_doing(goat, item, since=max(opens, carries.service)) is not None:
        return []
    best = max(opens, bases[around.best_from] + timedelta(days=around.best))
    closes = max(best, bases[around.closes_from] + timedelta(days=around.closes))
    lost = None if around.lost is None else (due - opens).days + around.lost
    span = spans.of_days(opens, 0, (best - opens).days, (closes - opens).days, lost, goat.look.zone)
    reason = f"she is due {due.isoformat()}: {carries.reason}"
    return [Piece(item, "", tuple(carries.anchor.ids), span, reason)]


def season_pieces(
    item: Item, season: Season, met: Callable[[date, date], bool], look: Look
) -> Iterator[Piece]:
    """This year's (or the last begun) season of an item, and the next one.

    ``met`` answers whether it was done from one day to another.
    """
    if item.id not in look.seasons:
        look.seasons[item.id] = list(_seasons(item, season, look.today, look.zone))
    begun = None
    for piece, opens, closes in look.seasons[item.id]:
        if opens > look.today:
            if begun is not None:
                yield begun
            yield piece
            return
        over = look.today > closes + timedelta(days=item.missed_days)
        begun = None if over or met(opens, closes) else piece


def _seasons(
    item: Item, season: Season, today: date, zone: ZoneInfo
) -> Iterator[tuple[Piece, date, date]]:
    """The seasons of an item about today, of last year, this and the next."""
    for year in range(today.year - 1, today.year + 2):
        opens, closes = season_days(season, year)
        length = (closes - opens).days
        span = spans.of_days(opens, 0, 0, length, length, zone)
        reason = f"its season is {opens.isoformat()} to {closes.isoformat()}"
        yield Piece(item, "", (f"season of {year}".encode(),), span, reason), opens, closes


def season_days(season: Season, year: int) -> tuple[date, date]:
    """The first and last day of a season that opens in a year."""
    opens, closes = _day_of_year(year, season.opens), _day_of_year(year, season.closes)
    return opens, closes if closes >= opens else _day_of_year(year + 1, season.closes)


def _day_of_year(year: int, text: str) -> date:
    """A day of the year; one the year lacks (29 February) is the first after it."""
    month, day = int(text[:2]), int(text[3:])
    try:
        return date(year, month, day)
    except ValueError:
        return date(year, month, 1).replace(day=28) + timedelta(days=1)


def spared_piece(item: Item, exemption: Record) -> Piece:
    """What stands for an item that an animal is spared: told only to who asks for everything."""
    return Piece(
        item, "", tuple(exemption.ids), None, partial(spared_words, exemption), spared=True
    )
