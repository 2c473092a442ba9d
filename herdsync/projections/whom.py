"""Whether a plan item is for an animal as it is at the moment. Must not know when work is due."""

from __future__ import annotations

from datetime import timedelta

from herdsync.projections import acts
from herdsync.projections.breeding import Pregnancy, pregnancy, size_of
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.past import Past
from herdsync.projections.plan_items import Whom
from herdsync.trade.reproduction import BOOSTER_LEAST_DAYS, BOOSTER_MOST_DAYS

TATTOOS = ("tattoo_right", "tattoo_left", "tattoo_tail")
# A kid that names no kidding is of one this near its birth.
BORN_WITHIN_DAYS = 2

# All that an item may ask of an animal beside its age and what changes with the days.
Likeness = tuple[object, ...]


def likeness(goat: Goat) -> Likeness:
    """What decides which items can be for an animal at all; the same for many of a herd."""
    if "likeness" not in goat.kept:
        goat.kept["likeness"] = _likeness(goat)
    found: Likeness = goat.kept["likeness"]
    return found


def _likeness(goat: Goat) -> Likeness:
    return (
        goat.standing, goat.sex, goat.entire, goat.wether, goat.heads,
        goat.record.value("horns_born", "unknown"), goat.told("kept_as") or "", size_of(goat),
        tuple(goat.told("groups") or ()),
    )  # fmt: skip


def fits_likeness(likeness: Likeness, whom: Whom) -> bool:
    """Whether an item can be for animals of a likeness."""
    standing, sex, entire, wether, heads, horns_born, kept_as, size, groups = likeness
    assert isinstance(groups, tuple)
    return (
        (not whom.standing or standing in whom.standing)
        and (not whom.sex or sex in whom.sex)
        and (whom.entire is None or entire == whom.entire)
        and (whom.wether is None or wether == whom.wether)
        and (not whom.heads or heads in whom.heads)
        and (not whom.horns_born or horns_born in whom.horns_born)
        and (not whom.kept_as or kept_as in whom.kept_as)
        and kept_as not in whom.not_kept_as
        and (not whom.size or size in whom.size)
        and (not whom.groups or bool(set(whom.groups) & set(groups)))
    )


def fits(goat: Goat, whom: Whom) -> bool:
    """Whether an item is for this animal today; an unknown age fits no bound of age."""
    return fits_age(goat, whom) and fits_likeness(likeness(goat), whom) and fits_state(goat, whom)


def fits_age(goat: Goat, whom: Whom) -> bool:
    """Whether an animal's age is within an item's bounds."""
    if whom.from_age_days is None and whom.to_age_days is None:
        return True
    age = goat.age_days
    if age is None:
        # An animal of unknown age is grown, as far as care is concerned.
        return whom.to_age_days is None and not goat.unborn
    return (whom.from_age_days or 0) <= age and (
        whom.to_age_days is None or age <= whom.to_age_days
    )


def fits_state(goat: Goat, whom: Whom) -> bool:
    """Whether an animal is in the state an item asks for: in milk, bred, weaned and the like."""
    return (
        (whom.in_milk is None or goat.in_milk == whom.in_milk)
        and (whom.bred is None or (carried(goat) is not None) == whom.bred)
        and (whom.kidded is None or (goat.last_kidding is not None) == whom.kidded)
        and (whom.suckles is None or goat.told("suckles") is whom.suckles)
        and (whom.weaned is None or goat.weaned == whom.weaned)
        and (whom.covered is None or covered(goat) == whom.covered)
    )


def carried(goat: Goat) -> Pregnancy | None:
    """What a doe carries, worked out once a look."""
    if "carried" not in goat.kept:
        goat.kept["carried"] = pregnancy(goat) if goat.female else None
    found: Pregnancy | None = goat.kept["carried"]
    return found


def covered(kid: Goat) -> bool:
    """Whether its dam's booster before its birth is on record, which her first milk passes on."""
    dam_id = kid.told("dam")
    dam = kid.look.records.get(dam_id) if isinstance(dam_id, bytes) else None
    if dam is None or kid.born is None:
        return False
    first = kid.born - timedelta(days=BOOSTER_MOST_DAYS)
    last = kid.born - timedelta(days=BOOSTER_LEAST_DAYS)
    return any(first <= day <= last for day, _ in Past(kid.look, dam).newest("vaccination"))


def apart(herd: Herd, goat: Goat) -> bool:
    """Whether it stands in a pen that holds no female."""
    pen = herd.pen(goat.pen)
    return pen is not None and not any(other.female for other in pen.goats if other is not goat)


def tattooed(goat: Goat) -> bool:
    """Whether its sheet tells what is tattooed in it."""
    return any(goat.told(field) for field in TATTOOS)


def kids_written(doe: Goat) -> bool:
    """Whether every kid born alive at her latest kidding is an animal on record."""
    kidding = doe.last_kidding
    if kidding is None:
        return True
    born = kidding[1].value("born_alive")
    canonical = doe.look.records.canonical
    of_it = 0
    for kid in doe.kids:
        named = kid.value("kidding")
        if isinstance(named, bytes):
            of_it += canonical(named) == kidding[1].id
            continue
        day = acts.first_day(kid, doe.look.zone, "born")
        dam = kid.value("dam")
        hers = isinstance(dam, bytes) and canonical(dam) == doe.id
        of_it += hers and day is not None and abs((day - kidding[0]).days) <= BORN_WITHIN_DAYS
    return not isinstance(born, int) or of_it >= born
