"""How a kid grows: birth weight, daily gain, weight at ninety days, weaning and colostrum.

Must not know plan or pens; the norms are the trade's arithmetic.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from fractions import Fraction

from msgspec import Struct

from herdsync.merge.records import Record
from herdsync.projections import acts
from herdsync.projections.amounts import told
from herdsync.projections.breeding import size_of
from herdsync.projections.goat import Goat
from herdsync.trade.advice import Advice
from herdsync.trade.dosing import plausible_weight
from herdsync.trade.kids import (
    GUT_CLOSES_H,
    Weaning,
    adjusted_weight_kg,
    birth_weight,
    colostrum,
    colostrum_had,
    daily_gain,
    weaning,
)

# A weight of the day of birth or the next counts as that at birth: common practice.
BIRTH_WITHIN_DAYS = 1
# Two days on, what was not drunk cannot be made up: the gut is closed.
NEWBORN_DAYS = 2
KID_DAYS = 240
MILK_FEEDS = ("colostrum",)


class Growth(Struct, frozen=True):
    """What a kid's weighings say; None where too few were written down."""

    birth_kg: Fraction | None
    gain_g_per_day: Fraction | None
    adjusted_kg: Fraction | None
    says: str
    alerts: tuple[str, ...]


def growth_of(kid: Goat) -> Growth:
    """Birth weight, the newest gain, and the weight at 90 days by its gain since birth."""
    by_day = _weights(kid)
    days = sorted(by_day)
    birth = _birth(kid, by_day)
    alerts = list(_birth_alerts(kid, birth))
    gain: Fraction | None = None
    says = ""
    if len(days) > 1:
        found = daily_gain(by_day[days[-2]], days[-2], by_day[days[-1]], days[-1])
        gain, says = found.gain_g_per_day, found.reason
        if found.advice is not Advice.OK:
            alerts.append(found.reason)
    adjusted = None
    if birth is not None and kid.born is not None and days:
        age = (days[-1] - kid.born).days
        if BIRTH_WITHIN_DAYS < age <= KID_DAYS:
            adjusted = adjusted_weight_kg(birth, by_day[days[-1]], age)
    return Growth(birth, gain, adjusted, says, tuple(alerts))


def weaning_gate(kid: Goat) -> Weaning | None:
    """Whether a kid may be weaned today; None where its birth is not told or it is weaned."""
    if kid.born is None or kid.weaned or kid.age_days is None:
        return None
    weighed = kid.weight()
    kg = told(weighed[1], "weight_kg", "kg") if weighed is not None else None
    return weaning(kid.born, kid.look.today, kg, eats_hay_and_grain=_eats(kid))


def colostrum_words(kid: Goat) -> str:
    """What a newborn needs and had, in its first days; empty later or without a birth weight."""
    if kid.age_days is None or kid.age_days > NEWBORN_DAYS:
        return ""
    birth = _birth(kid, _weights(kid))
    born = kid.born_instant
    if birth is None or born is None or kid.look.moment < born:
        return ""
    had = Fraction(0)
    for _, feed in kid.done("feeding"):
        if feed.value("what") in MILK_FEEDS:
            had += told(feed, "amount_ml", "mL") or 0
    hours = Fraction((kid.look.moment - born) // timedelta(minutes=1), 60)
    wanted = colostrum(born, birth)
    finding = colostrum_had(birth, had, min(hours, Fraction(GUT_CLOSES_H)))
    return f"{finding.advice}: {finding.reason}; {wanted.reason}"


def weight_words(goat: Goat, weighing: Record) -> Iterator[str]:
    """What a weight just written down says of growth, or that it looks like a slip."""
    on = acts.first_day(weighing, goat.look.zone)
    by_day = _weights(goat)
    before = [day for day in by_day if on is not None and day < on]
    kg = told(weighing, "weight_kg", "kg")
    if on is None or kg is None or not kg:
        return
    if before:
        last = max(before)
        born = goat.born if goat.born is not None and goat.born <= last else None
        follows = plausible_weight(by_day[last], last, kg, on, born)
        if follows.advice is not Advice.OK:
            yield f"{goat.name}: {follows.reason}."
    if goat.age_days is None or goat.age_days > KID_DAYS or on != max(by_day, default=on):
        return
    growth = growth_of(goat)
    yield from (f"{goat.name}: {alert}." for alert in growth.alerts)
    if _birth(goat, {on: kg}) is not None and goat.born_instant is not None:
        yield f"{goat.name}: {colostrum(goat.born_instant, kg).reason}."


def weaning_words(kid: Goat, weaned: Record) -> Iterator[str]:
    """What a weaning just written down came before: age, weight or appetite."""
    on = acts.first_day(weaned, kid.look.zone)
    if on is None or kid.born is None or on < kid.born:
        return
    by_day = _weights(kid)
    before = [day for day in by_day if day <= on]
    kg = by_day[max(before)] if before else None
    eats = bool(weaned.value("eats")) or _eats(kid)
    gate = weaning(kid.born, on, kg, eats_hay_and_grain=eats)
    if not gate.ready:
        yield f"{kid.name}: {gate.reason}."


def _weights(goat: Goat) -> dict[date, Fraction]:
    found: dict[date, Fraction] = {}
    for day, act in goat.done("weighing"):
        kg = told(act, "weight_kg", "kg")
        if kg:
            found[day] = kg
    return found


def _birth(kid: Goat, by_day: dict[date, Fraction]) -> Fraction | None:
    if kid.born is None:
        return None
    near = [day for day in sorted(by_day) if 0 <= (day - kid.born).days <= BIRTH_WITHIN_DAYS]
    return by_day[near[0]] if near else None


def _birth_alerts(kid: Goat, birth: Fraction | None) -> Iterator[str]:
    litter = litter_of(kid)
    if birth is None or not 1 <= litter <= 6:
        return
    finding = birth_weight(birth, size_of(kid), litter)
    if finding.advice is not Advice.OK:
        yield f"at birth {finding.reason}"


def litter_of(kid: Goat) -> int:
    """How many were born with it, itself and the dead included, as far as is told."""
    kidding = _kidding_of(kid)
    if kidding is not None:
        born = [kidding.value(field) for field in ("born_alive", "born_dead")]
        if any(isinstance(one, int) for one in born):
            return sum(one for one in born if isinstance(one, int))
    dam = kid.told("dam")
    if not isinstance(dam, bytes):
        return 1
    sibs = kid.look.records.naming(dam, "animal")
    return sum(acts.first_day(sib, kid.look.zone, "born") == kid.born for sib in sibs) or 1


def _kidding_of(kid: Goat) -> Record | None:
    """The kidding it names, else its dam's of that day or the one before or after."""
    named, dam = kid.told("kidding"), kid.told("dam")
    if isinstance(named, bytes):
        return kid.look.records.get(named)
    if not isinstance(dam, bytes) or kid.born is None:
        return None
    for kidding in kid.look.records.naming(dam, "kidding"):
        day = acts.first_day(kidding, kid.look.zone)
        if day is not None and abs((day - kid.born).days) <= 1:
            return kidding
    return None


def _eats(kid: Goat) -> bool:
    return any(feed.value("what") in ("grain", "hay") for _, feed in kid.done("feeding"))
