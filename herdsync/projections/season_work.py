"""Work of a part of the year: this year's season of an item, and the next. Must not know animals."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from herdsync.projections import spans
from herdsync.projections.look import Look
from herdsync.projections.piece import Piece
from herdsync.projections.plan_items import Item, Season


def season_pieces(
    item: Item, season: Season, met: Callable[[date, date], bool], look: Look
) -> Iterator[Piece]:
    """This year's (or the last begun) season of an item, and the next one.

    ``met`` answers whether it was done from one day to another.
    """
    kept = look.seasons.get(item.id)
    # Two plans may be held against each other in one look: what an item is called is not what it says.
    if kept is None or kept[0] is not item:
        kept = look.seasons[item.id] = (item, list(_seasons(item, season, look.today, look.zone)))
    begun = None
    for piece, opens, closes in kept[1]:
        if opens > look.today:
            if begun is not None:
                yield begun
            yield piece
            return
        over = look.today > closes + timedelta(days=item.missed_days)
        counted = opens - timedelta(days=season.back_days)
        begun = None if over or met(counted, closes) else piece


def _seasons(
    item: Item, season: Season, today: date, zone: ZoneInfo
) -> Iterator[tuple[Piece, date, date]]:
    """The seasons of an item about today, of last year, this and the next."""
    for year in range(today.year - 1, today.year + 2):
        opens, closes = season_days(season, year)
        length = (closes - opens).days
        span = spans.of_days(opens, 0, 0, length, length, zone)
        reason = f"the season for it runs {opens.isoformat()} to {closes.isoformat()}"
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
