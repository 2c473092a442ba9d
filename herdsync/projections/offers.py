"""Which items of a plan can be for which animals: worked out once for all animals that are alike.

A hundred items times a thousand animals are a hundred thousand questions; a herd holds some dozen
kinds of animal. Must not know what is on record.
"""

from __future__ import annotations

from msgspec import Struct

from herdsync.projections.goat import Goat
from herdsync.projections.plan import APART, AgeWindow, Item, Plan
from herdsync.projections.whom import (
    Likeness,
    carried,
    fits_age,
    fits_likeness,
    fits_state,
    likeness,
)

_BY_STATE = ("in_milk", "bred", "kidded", "suckles", "weaned", "covered")


class Offer(Struct, frozen=True):
    """An item that can be for an animal, and what still has to be asked.

    ``follows``: the kind of act it counts from. ``over_after``: the age in days after which nothing
    of it is told any more.
    """

    item: Item
    follows: str
    aged: bool
    by_state: bool
    over_after: int | None

    def open_to(self, goat: Goat, long_gone: bool) -> bool:
        """Whether the item asks anything of an animal today; cheap questions first."""
        item, age = self.item, goat.age_days
        if self.follows and self.follows not in goat.past.kinds:
            return False
        if not long_gone and self.over_after is not None and (age or 0) > self.over_after:
            return False
        if self.aged and not fits_age(goat, item.whom):
            return False
        if item.due_date is not None and carried(goat) is None:
            return False
        return not self.by_state or fits_state(goat, item.whom)


class Offers:
    """The items of one plan by the likeness of animals."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self._offers = [_offer(item) for item in plan.items if item.on == "animal"]
        self._by_likeness: dict[Likeness, list[Offer]] = {}

    def to(self, goat: Goat) -> list[Offer]:
        """The offers that can be for an animal, in the plan's order."""
        key = likeness(goat)
        found = self._by_likeness.get(key)
        if found is None:
            found = [one for one in self._offers if fits_likeness(key, one.item.whom)]
            self._by_likeness[key] = found
        return found

    def ask_company(self, goat: Goat) -> bool:
        """Whether any of them rests on who stands in an animal's pen with it."""
        return any(
            one.item.met_if == APART and one.open_to(goat, long_gone=False) for one in self.to(goat)
        )


def _offer(item: Item) -> Offer:
    whom = item.whom
    return Offer(
        item,
        "" if item.after is None else item.after.kind,
        whom.from_age_days is not None or whom.to_age_days is not None,
        any(getattr(whom, name) is not None for name in _BY_STATE),
        _over_after(item),
    )


def _over_after(item: Item) -> int | None:
    if not item.window or any(window.lost is None for window in item.window):
        return None
    return max(_last_day(window) for window in item.window) + item.missed_days


def _last_day(window: AgeWindow) -> int:
    assert window.lost is not None
    return window.lost // 24 + 1 if window.hours else window.lost
