"""Whether a plan item is for an animal as it is at the moment. Must not know when work is due."""

from __future__ import annotations

from herdsync.projections.breeding import Pregnancy, pregnancy, size_of
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.plan import Whom


def carried(goat: Goat) -> Pregnancy | None:
    """What a doe carries, worked out once a look."""
    if "carried" not in goat.kept:
        goat.kept["carried"] = pregnancy(goat) if goat.female else None
    found: Pregnancy | None = goat.kept["carried"]
    return found


def fits(goat: Goat, whom: Whom) -> bool:
    """Whether an item is for this animal today; an unknown age fits no bound of age."""
    return (
        (not whom.standing or goat.standing in whom.standing)
        and (not whom.sex or goat.sex in whom.sex)
        and _fits_age(goat, whom)
        and _fits_told(goat, whom)
        and _fits_state(goat, whom)
    )


def _fits_age(goat: Goat, whom: Whom) -> bool:
    if whom.from_age_days is None and whom.to_age_days is None:
        return True
    age = goat.age_days
    if age is None:
        # An animal of unknown age is grown, as far as care is concerned.
        return whom.to_age_days is None and not goat.unborn
    return (whom.from_age_days or 0) <= age and (
        whom.to_age_days is None or age <= whom.to_age_days
    )


def _fits_told(goat: Goat, whom: Whom) -> bool:
    kept_as = goat.told("kept_as") or ""
    return (
        (not whom.horns_born or str(goat.record.value("horns_born", "unknown")) in whom.horns_born)
        and (not whom.heads or goat.heads in whom.heads)
        and (not whom.kept_as or kept_as in whom.kept_as)
        and kept_as not in whom.not_kept_as
        and (not whom.size or size_of(goat) in whom.size)
        and (not whom.groups or bool(set(whom.groups) & set(goat.told("groups") or [])))
    )


def _fits_state(goat: Goat, whom: Whom) -> bool:
    return (
        (whom.entire is None or goat.entire == whom.entire)
        and (whom.wether is None or goat.wether == whom.wether)
        and (whom.in_milk is None or goat.in_milk == whom.in_milk)
        and (whom.bred is None or (carried(goat) is not None) == whom.bred)
        and (whom.kidded is None or (goat.last_kidding is not None) == whom.kidded)
        and (whom.suckles is None or goat.told("suckles") is whom.suckles)
        and (whom.weaned is None or goat.weaned == whom.weaned)
    )


def apart(herd: Herd, goat: Goat) -> bool:
    """Whether it stands in a pen that holds no female."""
    pen = herd.pen(goat.pen)
    return pen is not None and not any(other.female for other in pen.goats if other is not goat)
