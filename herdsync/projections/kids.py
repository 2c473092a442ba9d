"""One board for each kid: the windows of its first months, its gain, and a buckling's decision.

Must not know screens; what the law says and what stones cost is the trade's arithmetic.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from msgspec import structs

from herdsync.kinds.ids import text_id
from herdsync.kinds.quantities import amount
from herdsync.merge.records import Record
from herdsync.projections.due import Rounds
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.pieces import doing, pieces
from herdsync.projections.plan import Item
from herdsync.projections.whom import fits
from herdsync.reports import KidBoard, KidTask
from herdsync.trade.castration import KeptAs, decision
from herdsync.trade.kids import daily_gain
from herdsync.trade.tetanus import TetanusHistory

KID_DAYS = 240
TETANUS = "tetanus"

_KEPT: dict[str, KeptAs] = {"stud": "sire", "wether": "wether", "pet": "wether", "meat": "meat"}


def kid_boards(rounds: Rounds) -> list[KidBoard]:
    """The boards of all kids of the herd in walk order."""
    return [
        kid_board(rounds, goat)
        for goat in rounds.herd.in_walk_order()
        if goat.age_days is not None and goat.age_days <= KID_DAYS
    ]


def kid_board(rounds: Rounds, kid: Goat) -> KidBoard:
    """The board of one kid."""
    dam = kid.told("dam")
    weighed = kid.weight()
    gain, says = _gain(kid)
    return KidBoard(
        id=text_id(kid.id),
        name=kid.name,
        sex=kid.sex,
        born=str(kid.told("born") or ""),
        age_days=kid.age_days,
        dam=kid.look.names(dam) if isinstance(dam, bytes) else "",
        tasks=list(_tasks(rounds, kid)),
        weight_kg=_kg(weighed[1]) if weighed is not None else None,
        gain_g_per_day=gain,
        gain_says=says,
        decision=buckling_decision(rounds.herd, kid),
    )


def buckling_decision(herd: Herd, kid: Goat) -> list[str]:
    """What bears on a buckling not castrated, in the order it is weighed: law, stones, places, cover.

    Empty for any other animal.
    """
    if not kid.male or kid.castrated is not None or kid.born is None or kid.unborn:
        return []
    places = [pen.name for pen in herd.pens if not any(goat.female for goat in pen.goats)]
    kept_as = _KEPT.get(str(kid.told("kept_as") or ""), "undecided")
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
    return [*laws, *(f"{finding.advice}: {finding.reason}" for finding in findings)]


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
        told = act.value("against")
        if told is None or TETANUS in str(told).casefold():
            yield day


def _tasks(rounds: Rounds, kid: Goat) -> Iterator[KidTask]:
    moment = rounds.herd.look.moment
    for item in rounds.plan.items:
        if item.on != "animal" or not (item.window or item.after):
            continue
        done = doing(kid, item) if item.window else []
        if done and fits(kid, _any_age(item).whom):
            yield KidTask(item.id, item.work, "done", "", "", done[-1][0].isoformat())
            continue
        for piece in pieces(rounds.herd, kid, item):
            if piece.span is not None:
                yield KidTask(
                    f"{item.id}{piece.part}",
                    item.work,
                    piece.span.state(moment),
                    piece.span.opens_text,
                    piece.span.closes_text,
                    reason=piece.reason,
                )


def _any_age(item: Item) -> Item:
    whom = structs.replace(item.whom, from_age_days=None, to_age_days=None, entire=None)
    return structs.replace(item, whom=whom)


def _gain(kid: Goat) -> tuple[float | None, str]:
    """Gain between the two newest weighings on different days."""
    by_day = {day: act for day, act in kid.done("weighing") if act.value("weight_kg")}
    days = sorted(by_day)
    if len(days) < 2:
        return None, ""
    earlier, later = days[-2], days[-1]
    found = daily_gain(
        amount(by_day[earlier].value("weight_kg"), "kg"),
        earlier,
        amount(by_day[later].value("weight_kg"), "kg"),
        later,
    )
    return float(round(found.gain_g_per_day, 1)), found.reason


def _kg(weighing: Record) -> float:
    return float(round(amount(weighing.value("weight_kg"), "kg"), 3))
