"""One board for each kid: the windows of its first months, its gain, and a buckling's decision.

Must not know screens; what the law says and what stones cost is the trade's arithmetic.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, timedelta

from msgspec import structs

from herdsync.kinds.ids import text_id
from herdsync.projections import acts
from herdsync.projections.amounts import figure, told
from herdsync.projections.due import Rounds
from herdsync.projections.goat import Goat
from herdsync.projections.growth import colostrum_words, growth_of, weaning_gate
from herdsync.projections.herd import Herd
from herdsync.projections.pieces import pieces, window_done
from herdsync.projections.plan_items import Item, Whom
from herdsync.projections.whom import Likeness, fits, fits_likeness, likeness
from herdsync.reports import KidBoard, KidTask
from herdsync.trade.castration import CAUTION as CASTRATION_CAUTION
from herdsync.trade.castration import KeptAs, decision
from herdsync.trade.dates import add_days
from herdsync.trade.kids import CAUTION
from herdsync.trade.tetanus import TetanusHistory

KID_DAYS = 240
# What is done every so many days stands on the board where it begins by this age: ours.
BEGUN_BY_DAYS = 120
# Kinds of act of which a later one does not make up for the first.
_AGAIN = frozenset({"weighing", "feeding"})
TETANUS = "tetanus"

KEPT: dict[str, KeptAs] = {"stud": "sire", "wether": "wether", "pet": "wether", "meat": "meat"}


def kid_boards(rounds: Rounds) -> list[KidBoard]:
    """The boards of all kids of the herd in walk order."""
    windows = _Windows(rounds.plan.items)
    return [
        _board(rounds.herd, goat, windows)
        for goat in rounds.herd.in_walk_order()
        if goat.age_days is not None and goat.age_days <= KID_DAYS
    ]


def _board(herd: Herd, kid: Goat, windows: _Windows) -> KidBoard:
    dam = kid.told("dam")
    weighed = kid.weight()
    growth = growth_of(kid)
    gate = weaning_gate(kid)
    colostrum = colostrum_words(kid)
    return KidBoard(
        id=text_id(kid.id),
        name=kid.name,
        sex=kid.sex,
        born=str(kid.told("born") or ""),
        age_days=kid.age_days,
        dam=kid.look.names(dam) if isinstance(dam, bytes) else "",
        tasks=list(windows.of(herd, kid)),
        weight_kg=figure(told(weighed[1], "weight_kg", "kg")) if weighed is not None else None,
        gain_g_per_day=figure(growth.gain_g_per_day, 1),
        gain_says=growth.says,
        decision=buckling_decision(herd, kid),
        birth_kg=figure(growth.birth_kg),
        adjusted_kg=figure(growth.adjusted_kg),
        ready_to_wean=None if gate is None else gate.ready,
        weaning="" if gate is None else gate.reason,
        colostrum=colostrum,
        alerts=list(growth.alerts),
        caution=CAUTION,
        sex_now=kid.sex_now,
    )


def buckling_decision(herd: Herd, kid: Goat) -> list[str]:
    """What bears on a buckling not castrated, in the order it is weighed: law, stones, places, cover.

    Empty for any other animal.
    """
    if not kid.male or kid.castrated is not None or kid.born is None or kid.unborn:
        return []
    places = [pen.name for pen in herd.pens if not any(goat.female for goat in pen.goats)]
    kept_as = KEPT.get(str(kid.told("kept_as") or ""), "undecided")
    weighed = decision(
        kid.born,
        kid.look.today,
        kept_as,
        kid.look.settings.country,
        places,
        tetanus_history(herd, kid),
    )
    laws = [f"{method}: {note.standing}, {note.text}" for method, note in weighed.law]
    findings = (weighed.stones, weighed.apart_advice, weighed.tetanus)
    return [
        *laws,
        *(f"usual age: {finding.reason}" for _, finding in weighed.usual),
        *(f"{finding.advice}: {finding.reason}" for finding in findings),
        f"{weighed.reason}; open from {weighed.opens}",
        CASTRATION_CAUTION,
    ]


def tetanus_history(herd: Herd, kid: Goat) -> TetanusHistory:
    """What is recorded against tetanus of a kid and its dam; a vaccine naming nothing may count.

    Only vaccinations that say tetanus, or say nothing of what they are against, are taken.
    """
    dam_id = kid.told("dam")
    dam = herd.goat(dam_id) if isinstance(dam_id, bytes) else None
    antitoxin = [day for day, act in kid.done("castration") if act.value("tetanus") == "antitoxin"]
    return TetanusHistory(
        tuple(antitoxin),
        tuple(_against_tetanus(kid)),
        tuple(_against_tetanus(dam)) if dam is not None else (),
    )


def _against_tetanus(goat: Goat) -> Iterator[date]:
    for day, act in goat.done("vaccination"):
        against = act.value("against")
        if against is None or TETANUS in str(against).casefold():
            yield day


class _Windows:
    """What the plan has for the first months: windows of age, what follows an act, what begins young.

    Kids differ little in what decides which items can be for them, so that is asked once for all
    that are alike.
    """

    def __init__(self, items: Iterable[Item]) -> None:
        self._items = [
            (item, _any_age(item.whom))
            for item in items
            if item.on == "animal" and (item.window or item.after or _begins_young(item))
        ]
        self._alike: dict[Likeness, list[tuple[Item, Whom]]] = {}

    def of(self, herd: Herd, kid: Goat) -> Iterator[KidTask]:
        """The windows of one kid: done, open, ahead or missed."""
        moment = herd.look.moment
        for item, any_age in self._possible(likeness(kid)):
            first = _first_of_many(kid, item)
            if first is not None:
                yield first
                continue
            done = window_done(kid, item) if item.window else None
            if done is not None and fits(kid, any_age):
                yield _done(kid, item, done[0])
                continue
            for piece in pieces(herd, kid, item):
                if piece.span is not None:
                    yield KidTask(
                        f"{item.id}{piece.part}",
                        item.work,
                        piece.span.state(moment),
                        piece.span.opens_text,
                        piece.span.closes_text,
                        reason=piece.words,
                    )

    def _possible(self, alike: Likeness) -> list[tuple[Item, Whom]]:
        found = self._alike.get(alike)
        if found is None:
            # What is done counts for a kid castrated since, so whether it is entire is not asked here.
            found = [one for one in self._items if fits_likeness(alike, one[1])]
            self._alike[alike] = found
        return found


def _done(kid: Goat, item: Item, latest: date) -> KidTask:
    """A window whose work was done; of what is done again and again, whether in time, and when."""
    ends = [
        kid.born + timedelta(hours=window.lost) if window.hours else add_days(kid.born, window.lost)
        for window in item.window
        if window.lost is not None and kid.born is not None
    ]
    on = latest
    if item.kind in _AGAIN and ends and latest > max(ends):
        every = (
            day
            for met in item.by
            for day, act in kid.done(met.kind)
            if acts.holds_where(act, met.where)
        )
        on = min(every, default=latest)
        if on > max(ends):
            reason = f"not on record in time, first done {on}"
            return KidTask(item.id, item.work, "missed", "", "", reason=reason)
    return KidTask(item.id, item.work, "done", "", "", on.isoformat())


def _begins_young(item: Item) -> bool:
    """Whether an item is work of every so many days that begins in a kid's first months."""
    first = item.every.first_age_days if item.every is not None else None
    return first is not None and first <= BEGUN_BY_DAYS


def _first_of_many(kid: Goat, item: Item) -> KidTask | None:
    """The first time of such work for a kid that is too young for it yet; None for any other."""
    from_age, every = item.whom.from_age_days, item.every
    if every is None or from_age is None or kid.born is None or kid.age_days is None:
        return None
    whom = structs.replace(item.whom, from_age_days=None)
    if kid.age_days >= from_age or every.first_age_days is None or not fits(kid, whom):
        return None
    grace = every.grace if every.first_grace is None else every.first_grace
    opens, closes = (
        add_days(kid.born, every.first_age_days + days).isoformat()
        for days in (-every.open_before, grace)
    )
    reason = f"first at {every.first_age_days} days of age"
    return KidTask(item.id, item.work, "ahead", opens, closes, reason=reason)


def _any_age(whom: Whom) -> Whom:
    return structs.replace(whom, from_age_days=None, to_age_days=None, entire=None, covered=None)
