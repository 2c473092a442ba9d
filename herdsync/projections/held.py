"""Everything that is held, animal by animal: clear moments, milkings to discard, kids it passes to.

Must not know the care plan or screens.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record
from herdsync.projections import acts, moments
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.holds import holds, running_holds
from herdsync.projections.withholding import Held
from herdsync.reports import HeldAnimal
from herdsync.trade.withdrawal import CAUTION, Given, HeldMilkings, held_milkings


def held_animals(herd: Herd, goats: Iterable[Goat]) -> list[HeldAnimal]:
    """Those of some animals that may not do something yet, in their order."""
    lines = [held_animal(herd, goat) for goat in goats if goat.gone is None]
    return [line for line in lines if line.holds]


def held_animal(herd: Herd, goat: Goat) -> HeldAnimal:
    """What one animal may not do yet; without holds the list is empty."""
    milkings = discarded(herd, goat)
    found = holds(herd, goat)
    medicine = any("not for sale" in hold.what for hold in found)
    return HeldAnimal(
        id=text_id(goat.id),
        name=goat.name,
        pen=herd.pen_name(goat),
        holds=found,
        milkings_to_discard=None if milkings is None else len(milkings.discarded),
        first_saleable=""
        if milkings is None
        else moments.text(milkings.first_saleable, herd.look.zone),
        passed_to=passed_to(herd, goat),
        caution=CAUTION if medicine else "",
    )


def discarded(herd: Herd, doe: Goat) -> HeldMilkings | None:
    """The milkings of a doe in milk that the running holds discard, at the farm's chore times.

    None where she is not in milk, nothing holds her milk, or its end is not known.
    """
    if not doe.in_milk:
        return None
    running = running_holds(herd, doe, "milk")
    if not running or running[0].clear.at is None:
        return None
    settings = herd.look.settings
    milked_at = sorted({settings.morning, settings.evening})
    since = _given(herd, running[0])
    if doe.last_kidding is not None and doe.last_kidding[0] > running[0].given:
        # What she was given before she kidded: she was dry, or her milkings begin anew with the kid.
        since = _told(herd, doe.last_kidding[1]) or doe.last_kidding[0]
    return held_milkings(since, running[0].clear, milked_at, herd.look.zone)


def passed_to(herd: Herd, doe: Goat) -> list[str]:
    """The kids whose meat is held because they drink from her."""
    if not doe.female:
        return []
    kids = (herd.goat(record.id) for record in doe.kids)
    return sorted(
        kid.name
        for kid in kids
        if kid is not None
        and kid.gone is None
        and any(doe.id in held.records for held in running_holds(herd, kid, "meat"))
    )


def _given(herd: Herd, held: Held) -> Given:
    """The instant of the dose that holds longest, or its last day where its time is not told."""
    dose = herd.records.get(held.records[0])
    return (_told(herd, dose) if dose is not None else None) or held.given


def _told(herd: Herd, act: Record) -> datetime | None:
    """The last instant of an act whose time is told exactly."""
    at = acts.last_instant(act, herd.look.zone)
    if at is None or not all(moments.exact(one) for one in acts.times(act)):
        return None
    return at.astimezone(herd.look.zone)
