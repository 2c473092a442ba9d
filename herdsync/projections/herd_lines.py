"""The lines of the herd: one for each animal, derived facts in words. Must not know screens."""

from __future__ import annotations

from herdsync.answers import HerdLine
from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.holds import holds
from herdsync.projections.whom import carried


def herd_lines(herd: Herd, *, everything: bool = False) -> list[HerdLine]:
    """The herd in walk order; ``everything`` adds gone, outside and unborn animals after it."""
    goats = herd.in_walk_order()
    if everything:
        others = [goat for goat in herd.every if not goat.of_herd]
        goats += sorted(others, key=lambda goat: (goat.name.casefold(), goat.id))
    return [herd_line(herd, goat) for goat in goats]


def herd_line(herd: Herd, goat: Goat, due: int = 0) -> HerdLine:
    """One animal in one line; ``due`` is the number of its open pieces of work."""
    sheet = goat.record
    dam, sire = sheet.value("dam"), sheet.value("sire")
    held = [hold.what for hold in holds(herd, goat)] if goat.gone is None else []
    return HerdLine(
        id=text_id(goat.id),
        name=goat.name,
        sex=goat.sex,
        born=str(sheet.value("born", "")),
        age_days=goat.age_days,
        standing=goat.standing,
        pen=herd.pen_name(goat),
        horns=goat.heads,
        tattoo_right=str(sheet.value("tattoo_right", "")),
        tattoo_left=str(sheet.value("tattoo_left", "")),
        dam=_id(herd, dam),
        sire=_id(herd, sire),
        holds=held,
        disputed=_disputed(goat),
        state=states(goat),
        breed=str(sheet.value("breed", "")),
        due=due,
        pen_id=text_id(goat.pen) if goat.pen is not None else "",
        dam_name=herd.look.names(dam) if isinstance(dam, bytes) else "",
        sire_name=herd.look.names(sire) if isinstance(sire, bytes) else "",
        sex_now=goat.sex_now,
    )


def states(goat: Goat) -> list[str]:
    """What follows from its records, in words of the trade."""
    if goat.gone is not None:
        # What it was when it went is in its acts; of today only this is so.
        return [goat.standing, *(["wether"] if goat.wether else [])]
    found = []
    if goat.wether:
        found.append("wether")
        if goat.entire and goat.entire_until is not None:
            found.append(f"counts as entire until {goat.entire_until}")
    elif goat.male and goat.may_sire_on(goat.look.today):
        found.append("entire")
    if goat.in_milk:
        found.append("in milk")
    carries = carried(goat)
    if carries is not None:
        found.append("bred" if carries.found is not None else "mated")
        if carries.window is not None:
            day = carries.window.best or carries.window.opens
            found.append(f"due {day}")
    if goat.quarantined_until is not None:
        found.append(f"in quarantine until {goat.quarantined_until}")
    if goat.unreadable:
        found.append("unreadable entries")
    return found


def _disputed(goat: Goat) -> bool:
    """Whether its sheet, its pen or its going is in dispute."""
    near: list[Record] = [goat.record]
    for kind in ("pen-move", "leaving", "death", "castration"):
        last = goat.last(kind)
        if last is not None:
            near.append(last[1])
    return any(record.any_disputed for record in near)


def _id(herd: Herd, told: object) -> str:
    return text_id(herd.records.canonical(told)) if isinstance(told, bytes) else ""
