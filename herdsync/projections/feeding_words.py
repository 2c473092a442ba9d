"""What a feeding just written down says: a day's bottles, a tube, and milk that may not be drunk.

Must not know the care plan.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from herdsync.merge.records import Record
from herdsync.projections import acts
from herdsync.projections.amounts import told
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.holds import MILK, holds
from herdsync.trade.advice import Advice
from herdsync.trade.kids import BOTTLE_DAY_ML, BOTTLE_FROM_DAYS, bottle_day

BOTTLED = ("milk", "milk-replacer")
DRUNK = ("colostrum", *BOTTLED)
TUBE = (
    "A tube only by someone trained, in a kid that is warm and cannot suck: milk in the lungs kills. "
    "A kid that does not suck needs the veterinarian."
)


def feeding_words(herd: Herd, kid: Goat, feeding: Record) -> Iterator[str]:
    """Sentences on one feeding."""
    what = feeding.value("what")
    if "tube" in str(feeding.value("how") or "").casefold():
        yield TUBE
    if what in DRUNK:
        yield from _held_milk(herd, feeding)
    if what in BOTTLED:
        yield from _day_words(kid, feeding)


def _held_milk(herd: Herd, feeding: Record) -> Iterator[str]:
    """A doe named as the source whose milk is held."""
    source = str(feeding.value("source") or "").casefold()
    for doe in herd.present if source else ():
        if doe.female and doe.name.casefold() in source.split():
            for hold in holds(herd, doe):
                if hold.what == MILK:
                    yield f"Milk of {doe.name} is held ({hold.reason}): it is not for kids."


def _day_words(kid: Goat, feeding: Record) -> Iterator[str]:
    """More milk in a day than kids are usually given; the first days have their own measure."""
    day = acts.first_day(feeding, kid.look.zone)
    if day is None or kid.born is None or (day - kid.born).days < BOTTLE_FROM_DAYS:
        return
    drunk = [
        told(act, "amount_ml", "mL") or Fraction(0)
        for on, act in kid.done("feeding")
        if on == day and act.value("what") in BOTTLED
    ]
    total = sum(drunk, Fraction(0))
    if total > 0:
        finding = bottle_day(total)
        # Less than usual is no word before the day is over.
        if finding.advice is not Advice.OK and total > BOTTLE_DAY_ML[1]:
            yield f"{kid.name}: {finding.reason}."
