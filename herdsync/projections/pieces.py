"""Pieces of work: what a plan item asks of one animal, counted from which record.

Care counts from the earliest instant told; a disputed anchor says so. Must not know states, skips
or the order of the walk.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date, timedelta
from fractions import Fraction
from functools import partial
from zoneinfo import ZoneInfo

from herdsync.kinds import CATALOGUE
from herdsync.kinds.quantities import amount
from herdsync.merge.records import Record
from herdsync.projections import acts, spans
from herdsync.projections.following import after_pieces
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.past import Done
from herdsync.projections.piece import Piece, done_within, last_doing
from herdsync.projections.plan_items import (
    APART,
    KIDS_WRITTEN,
    TATTOOED,
    AgeWindow,
    AroundDue,
    Every,
    Item,
)
from herdsync.projections.season_work import season_pieces
from herdsync.projections.spans import Span
from herdsync.projections.unrecorded import UNRECORDED, known_since, long_ago
from herdsync.projections.whom import apart, carried, fits, kids_written, tattooed
from herdsync.trade.units import plain


def pieces(herd: Herd, goat: Goat, item: Item) -> Iterable[Piece]:
    """What an item asks of an animal at the moment, and what lies ahead of it."""
    return asked(herd, goat, item) if fits(goat, item.whom) else ()


def asked(herd: Herd, goat: Goat, item: Item, long_gone: bool = True) -> Iterable[Piece]:
    """The same of an animal that the item is known to fit; not what was ``long_gone`` if not asked."""
    if item.met_if and _FACTS[item.met_if](herd, goat):
        return ()
    if item.every is not None:
        asked_now = in_months(item.every, goat.look.today)
        return (_every(goat, item, item.every),) if asked_now else ()
    if item.window:
        return _window(goat, item)
    if item.after is not None:
        return after_pieces(goat, item, item.after, long_gone)
    if item.due_date is not None:
        return _around_due(goat, item, item.due_date)
    assert item.season is not None, "chores are laid out with the day, not here"
    return season_pieces(item, item.season, partial(done_within, goat.past, item), goat.look)


_FACTS: dict[str, Callable[[Herd, Goat], bool]] = {
    APART: apart,
    TATTOOED: lambda _, goat: tattooed(goat),
    KIDS_WRITTEN: lambda _, goat: kids_written(goat),
}


def in_months(every: Every, today: date) -> bool:
    """Whether an interval is asked for in this month."""
    return not every.months or today.month in every.months


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
    begun = goat.past.latest(every.first_after) if every.first_after else None
    zone = goat.look.zone
    if begun is not None and (last is None or last[0] < begun[0]):
        day, act = begun
        span: Span = spans.of_days(
            day, max(1, days - every.open_before), days, days + every.grace, None, zone, False
        )
        chance = day + timedelta(days=days)
        if last is None and chance + timedelta(days=max(days, every.grace)) < goat.look.today:
            span = spans.since(chance, zone)
        return Piece(item, "", tuple(act.ids), span, partial(_since_begun, act, days, zone))
    if last is not None:
        return interval_piece(item, every, days, last, zone)
    return _first_piece(goat, item, every, days)


def _since_begun(act: Record, days: int, zone: ZoneInfo) -> str:
    what = CATALOGUE[act.kind].title
    return f"{days} days after the {what} of {acts.when_words(act, zone)}; {UNRECORDED} since"


def _first_piece(goat: Goat, item: Item, every: Every, days: int) -> Piece:
    """The first time of something that is done every so many days."""
    ids, zone = tuple(goat.record.ids), goat.look.zone
    first = every.first_age_days
    if first is None or goat.born is None:
        words = UNRECORDED if first is None else f"{UNRECORDED}, nor a birth date to count from"
        return Piece(item, "", ids, spans.since(known_since(goat), zone), words)
    grace = every.first_grace if every.first_grace is not None else every.grace
    chance = goat.born + timedelta(days=first)
    if long_ago(goat, chance, max(days, grace)):
        # The farm may have known it before it was old enough.
        since = spans.since(max(known_since(goat), chance), zone)
        return Piece(item, "", ids, since, partial(_unrecorded, goat, first))
    opens = max(0, first - every.open_before)
    span = spans.of_days(goat.born, opens, first, first + grace, None, zone, False)
    return Piece(item, "", ids, span, partial(_first_time, goat, first))


def _unrecorded(goat: Goat, first: int) -> str:
    return f"{UNRECORDED}; {goat.born_words}, its first time was at {first} days of age"


def _first_time(goat: Goat, first: int) -> str:
    return f"{goat.born_words}, first at {first} days of age; {UNRECORDED}"


def interval_piece(item: Item, every: Every, days: int, last: Done, zone: ZoneInfo) -> Piece:
    """The next time of something done every so many days, counted from the last act."""
    day, act = last
    opens = max(1, days - every.open_before)
    span = spans.of_days(day, opens, days, days + every.grace, None, zone, False)
    return Piece(item, "", tuple(act.ids), span, partial(_again, act, days, zone))


def _again(act: Record, days: int, zone: ZoneInfo) -> str:
    return f"last done {acts.when_words(act, zone)}, every {days} days"


def window_done(goat: Goat, item: Item) -> Done | None:
    """The latest act that did the work of an item with a window of age; None where none did."""
    window = _window_of(goat, item)
    since = date.min
    if window is not None and window.counts_from is not None and goat.born is not None:
        since = goat.born + timedelta(days=window.counts_from)
    return last_doing(goat, item, since=since)


def _window_of(goat: Goat, item: Item) -> AgeWindow | None:
    return next((one for one in item.window if one.whom is None or fits(goat, one.whom)), None)


def _window(goat: Goat, item: Item) -> Iterable[Piece]:
    if goat.born is None:
        return ()
    window = _window_of(goat, item)
    if window is None or window_done(goat, item) is not None:
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
    told = f"{goat.born_words}, at {window.opens} to {window.closes} {unit} of age"
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
