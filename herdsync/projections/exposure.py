"""Which doe shared a pen with a male able to sire: from when to when, how related, due when.

From pen moves, also disputed ones; how sure it is is said. What nobody moved nobody can tell. Must
not know the care plan.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta

from msgspec import Struct

from herdsync.kinds.ids import text_id
from herdsync.projections import acts, moments
from herdsync.projections.breeding import pedigree, size_of
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.reports import ExposureLine
from herdsync.trade.dates import Window
from herdsync.trade.pedigree import HerdBook
from herdsync.trade.relationship import relate
from herdsync.trade.reproduction import pen_kidding_due

# Exposures whose last possible kidding lies further back than this are history, not news.
TOLD_AFTER_DAYS = 30


class Stay(Struct, frozen=True):
    """One animal in one pen from an instant to another (None: still there), by which moves.

    ``id`` and ``moves`` are ids as they are told: an animal meets many, and each is told with them.
    """

    goat: Goat
    id: str
    pen: bytes
    since: datetime
    until: datetime | None
    moves: tuple[str, ...]
    sure: bool


def exposures(herd: Herd, goats: Iterable[Goat] | None = None) -> list[ExposureLine]:
    """Every exposure that may still lead to a kidding, for some does or the whole herd."""
    kin = _Kin(pedigree(herd.records, herd.look))
    wanted = {goat.id for goat in goats} if goats is not None else None
    males = [stay for goat in herd.every if goat.male for stay in stays(goat)]
    by_pen: dict[bytes, list[Stay]] = {}
    for stay in males:
        by_pen.setdefault(stay.pen, []).append(stay)
    lines = []
    for doe in herd.every:
        if doe.female and doe.gone is None and (wanted is None or doe.id in wanted):
            for stay in stays(doe):
                for other in by_pen.get(stay.pen, []):
                    line = _met(herd, stay, other, kin)
                    if line is not None:
                        lines.append(line)
    return sorted(lines, key=lambda line: (line.since, line.doe_name, line.male_name, line.pen))


def would_meet(herd: Herd, goat: Goat, pen: bytes, at: datetime) -> list[str]:
    """What moving an animal into a pen would expose, as sentences; empty where nothing."""
    day = at.astimezone(herd.look.zone).date()
    found = []
    place = herd.pen(pen)
    for other in place.goats if place is not None else ():
        doe, male = (goat, other) if goat.female else (other, goat)
        if other is not goat and male.may_sire_on(day) and doe.may_conceive_on(day):
            _, related = _Kin(pedigree(herd.records, herd.look)).of(
                text_id(doe.id), text_id(male.id)
            )
            found.append(
                f"{doe.name} would share {herd.look.names(pen)} with {male.name}, able to sire{related}"
            )
    return sorted(found)


def stays(goat: Goat) -> Iterator[Stay]:
    """Where an animal stood, from its moves; a disputed move reaches as far as any claim allows."""
    moves, id = list(goat.moves()), text_id(goat.id)
    absent = _absences(goat)
    for place, (since, pen, move) in enumerate(moves):
        following = moves[place + 1] if place + 1 < len(moves) else None
        until = acts.last_instant(following[2], goat.look.zone) if following else None
        named = (move, *((following[2],) if following else ()))
        sure = not any(one.any_disputed for one in named)
        by = tuple(text_id(one.id) for one in named)
        for begins, ends in _without(since, until, absent):
            if begins <= goat.look.moment:
                yield Stay(goat, id, pen, begins, ends, by, sure)


def _absences(goat: Goat) -> list[tuple[datetime, datetime | None]]:
    """When it was away from the farm for certain: from a leaving or death to the next coming.

    It came back by a coming that may lie after the leaving: of two on one day nobody knows better.
    """
    back = sorted(_spans(goat, "arrival"))
    found: list[tuple[datetime, datetime | None]] = [
        (latest, None) for _, latest, disputed in _spans(goat, "death") if not disputed
    ]
    for earliest, latest, disputed in _spans(goat, "leaving"):
        again = next((begins for begins, ends, _ in back if ends >= earliest), None)
        if not disputed and (again is None or again > latest):
            found.append((latest, again))
    return sorted(found, key=lambda one: one[0])


def _spans(goat: Goat, kind: str) -> Iterator[tuple[datetime, datetime, bool]]:
    """The earliest and latest instant of every act of a kind, and whether it is disputed."""
    for _, act in goat.done(kind):
        told = [moments.span(one, goat.look.zone) for one in acts.times(act)]
        yield min(told)[0], max(ends for _, ends in told), act.any_disputed


def _without(
    since: datetime, until: datetime | None, absent: list[tuple[datetime, datetime | None]]
) -> Iterator[tuple[datetime, datetime | None]]:
    """What is left of a span of time without those it was away."""
    for left, back in absent:
        if (until is not None and left >= until) or (back is not None and back <= since):
            continue
        if left > since:
            yield since, left
        if back is None:
            return
        since = max(since, back)
    if until is None or since < until:
        yield since, until


def _met(herd: Herd, doe: Stay, male: Stay, kin: _Kin) -> ExposureLine | None:
    now = herd.look.moment
    since = max(doe.since, male.since)
    until = min(doe.until or now, male.until or now)
    if until < since:
        return None
    zone = herd.look.zone
    able = _able_days(
        doe.goat, male.goat, since.astimezone(zone).date(), until.astimezone(zone).date()
    )
    if able is None:
        return None
    first, last = able
    window = pen_kidding_due(first, last, size_of(doe.goat))
    over = window.closes + timedelta(days=TOLD_AFTER_DAYS)
    kidded = doe.goat.last_kidding
    if over < herd.look.today or (kidded is not None and kidded[0] > last):
        return None
    return _line(herd, doe, male, able, window, kin)


def _able_days(doe: Goat, male: Goat, first: date, last: date) -> tuple[date, date] | None:
    """The days within a meeting on which he could sire and she conceive."""
    settings = doe.look.settings
    if doe.born is not None:
        first = max(first, doe.born + timedelta(days=settings.female_able_days))
    if male.born is not None:
        first = max(first, male.born + timedelta(days=settings.male_able_days))
    if male.entire_until is not None:
        last = min(last, male.entire_until)
    return (first, last) if first <= last else None


def _line(
    herd: Herd, doe: Stay, male: Stay, able: tuple[date, date], window: Window, kin: _Kin
) -> ExposureLine:
    first, last = able
    running = doe.until is None and male.until is None and last >= herd.look.today
    sure = doe.sure and male.sure
    kinship, related = kin.of(doe.id, male.id)
    days = (last - first).days + 1
    ages = "" if male.goat.born is not None and doe.goat.born is not None else "; an age is unknown"
    doubt = "" if sure else "; a move is disputed, the widest time is taken"
    return ExposureLine(
        doe=doe.id,
        doe_name=doe.goat.name,
        male=male.id,
        male_name=male.goat.name,
        pen=herd.look.names(doe.pen),
        since=first.isoformat(),
        until="" if running else last.isoformat(),
        days=days,
        running=running,
        sure=sure,
        relationship=kinship,
        window=[window.opens.isoformat(), window.closes.isoformat()],
        says=f"{doe.goat.name} shared {herd.look.names(doe.pen)} with {male.goat.name}, entire, "
        f"for {days} {'day' if days == 1 else 'days'}{related}{ages}{doubt}",
        records=sorted({*doe.moves, *male.moves}),
    )


class _Kin:
    """How does and males that met are related, pair after pair.

    In a large pen everybody met everybody, and most have no ancestor in common: those are found by
    the ancestors of each, and not worked out.
    """

    def __init__(self, book: HerdBook) -> None:
        self._book = book
        self._descent: dict[str, set[int]] = {}

    def of(self, one: str, other: str) -> tuple[float, str]:
        """The share that two ids have in common, and what is said of it; nothing where there is none."""
        try:
            if self._from(one).isdisjoint(self._from(other)):
                return 0.0, ""
            share = float(relate(self._book, one, other).relationship)
        except ValueError:
            return 0.0, "; how they are related cannot be told"
        return share, f"; related {share:g}" if share else ""

    def _from(self, animal: str) -> set[int]:
        """Where in the book an animal and all it descends from stand."""
        found = self._descent.get(animal)
        if found is None:
            found = self._descent[animal] = self._book.ancestors([self._book.place(animal)])
        return found
