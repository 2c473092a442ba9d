"""Running clocks: next dose, milk and meat clear, rechecks, ring check and ring drop.

Hours are elapsed time, days the same time of day on the farm's clock: exact across daylight saving.
A timer that rests on a doubtful clock says so. Must not know screens.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta

from herdsync.answers import Timer
from herdsync.kinds import CATALOGUE
from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record
from herdsync.projections import acts, moments, spans
from herdsync.projections.courses import NextDose, next_doses
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.holds import running_holds
from herdsync.projections.piece import Piece
from herdsync.projections.pieces import asked
from herdsync.projections.plan_items import Item, Plan
from herdsync.projections.whom import carried, fits
from herdsync.projections.withholding import FIELDS, Held
from herdsync.trade.dates import in_utc

Doubtful = Callable[[bytes], bool]
_RING = {"ring-check": "ring check", "ring-off": "ring drop"}


def never(entry: bytes) -> bool:
    """No clock is doubtful."""
    del entry
    return False


def timers(herd: Herd, plan: Plan, doubtful: Doubtful = never) -> list[Timer]:
    """All running timers of the herd and its visitors, the next to end first."""
    looks = _looks_after(plan)
    found = [
        timer
        for goat in herd.every
        if goat.gone is None and not goat.unborn
        for timer in _of_goat(herd, goat, looks, doubtful)
    ]
    return sorted(found, key=lambda one: (one.left_s, one.name, one.what, one.animal))


def goat_timers(herd: Herd, goat: Goat, plan: Plan, doubtful: Doubtful = never) -> list[Timer]:
    """The running timers of one animal, the next to end first."""
    return _of_goat(herd, goat, _looks_after(plan), doubtful)


def _of_goat(herd: Herd, goat: Goat, looks: list[Item], doubtful: Doubtful) -> list[Timer]:
    found = [_dose(goat, coming, doubtful) for coming in next_doses(goat)]
    for what in FIELDS:
        if what == "milk" and not (goat.in_milk or carried(goat) is not None):
            continue
        known = [held for held in running_holds(herd, goat, what) if held.clear.at is not None]
        if known:
            found.append(_clear(goat, known, f"{what} clear", doubtful))
    rechecks: dict[str, Timer] = {}
    for timer in sorted(_rechecks(herd, goat, looks, doubtful), key=lambda one: one.left_s):
        rechecks.setdefault(timer.what, timer)
    return sorted([*found, *rechecks.values()], key=lambda one: (one.left_s, one.what))


def rests_on_doubt(records: list[Record], doubtful: Doubtful) -> bool:
    """Whether the time of some act was left to a device's clock that is doubtful."""
    return any(
        doubtful(claim.entry) and _defaulted(str(told), claim.author.clock)
        for record in records
        if (kind := CATALOGUE.get(record.kind)) is not None and kind.on is not None
        for register in [record.registers.get(record.register_of(kind.on))]
        if register is not None
        for claim in register.standing
        if (told := claim.values.get(kind.on)) is not None
    )


def _defaulted(told: str, clock_ms: int) -> bool:
    """Whether a stored time is the reading of the clock, to the second."""
    if not moments.exact(told):
        return False
    return int(datetime.fromisoformat(told).timestamp()) == clock_ms // 1000


def _dose(goat: Goat, coming: NextDose, doubtful: Doubtful) -> Timer:
    records = [*coming.given[-1:], *([coming.course] if coming.course is not None else [])]
    name = goat.look.names.of(coming.product) if coming.product is not None else "unknown product"
    since = coming.last if coming.last is not None else coming.at
    return _timer(goat, f"next dose of {name}", since, coming.at, records, doubtful)


def _clear(goat: Goat, known: list[Held], what: str, doubtful: Doubtful) -> Timer:
    longest = known[0]
    assert longest.clear.at is not None
    named = (goat.look.records.get(id) for held in known for id in held.records)
    records = list({record.id: record for record in named if record is not None}.values())
    dose = goat.look.records.get(longest.records[0])
    since = acts.last_instant(dose, goat.look.zone) if dose is not None else None
    return _timer(goat, what, since or longest.clear.at, longest.clear.at, records, doubtful)


def _looks_after(plan: Plan) -> list[Item]:
    """The items that ask for a look after an act."""
    return [item for item in plan.items if item.after is not None and item.kind == "check"]


def _rechecks(herd: Herd, goat: Goat, looks: list[Item], doubtful: Doubtful) -> Iterator[Timer]:
    """The next look that each ladder or window after an act asks for; several may follow one act."""
    if goat.standing != "here":
        return
    for item in looks:
        if item.after is None or item.after.kind not in goat.past.kinds:
            continue
        if not fits(goat, item.whom):
            continue
        asked_now = asked(herd, goat, item, long_gone=False)
        coming = next((one for one in asked_now if _runs(one, herd)), None)
        anchor = goat.look.records.get(coming.anchors[0]) if coming is not None else None
        if coming is not None and anchor is not None:
            yield _recheck(goat, item, coming, anchor, doubtful)


def _runs(piece: Piece, herd: Herd) -> bool:
    assert piece.span is not None
    return piece.span.state(herd.look.moment) != spans.MISSED


def _recheck(goat: Goat, item: Item, piece: Piece, anchor: Record, doubtful: Doubtful) -> Timer:
    assert piece.span is not None
    since = acts.first_instant(anchor, goat.look.zone)
    assert since is not None
    ring_drop = item.id == "ring-off"
    day = date.fromisoformat(piece.span.closes_text if ring_drop else piece.span.best_text)
    ends = _same_clock(since, day, anchor, goat)
    what = _RING.get(item.id, f"recheck of {anchor.kind.replace('-', ' ')}")
    return _timer(goat, what, since, ends, [anchor], doubtful)


def _same_clock(since: datetime, day: date, anchor: Record, goat: Goat) -> datetime:
    """The instant on a day at the time of day of the act; where that is unknown, as it begins.

    A look on the day of the act itself has until that day is over.
    """
    zone = goat.look.zone
    if day == since.astimezone(zone).date():
        return moments.day_begins(day + timedelta(days=1), zone)
    if not all(moments.exact(told) for told in acts.times(anchor)):
        return moments.day_begins(day, zone)
    local = since.astimezone(zone)
    return in_utc(datetime.combine(day, local.time(), zone))


def _timer(
    goat: Goat,
    what: str,
    since: datetime,
    ends: datetime,
    records: list[Record],
    doubtful: Doubtful,
) -> Timer:
    zone = goat.look.zone
    return Timer(
        animal=text_id(goat.id),
        name=goat.name,
        what=what,
        since=moments.text(since, zone),
        ends=moments.text(ends, zone),
        left_s=(ends - goat.look.moment) // timedelta(seconds=1),
        doubtful=rests_on_doubt(records, doubtful),
        records=sorted(text_id(record.id) for record in records),
    )
