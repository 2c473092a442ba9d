"""Which items of a plan can be for which animals: worked out once for all animals that are alike.

A hundred items times a thousand animals are a hundred thousand questions; a herd holds some dozen
kinds of animal. Must not know what is on record.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from itertools import chain

from msgspec import Struct

from herdsync.projections.goat import Goat
from herdsync.projections.plan_items import APART, AgeWindow, Item, Plan, Whom
from herdsync.projections.whom import (
    Likeness,
    carried,
    fits,
    fits_age,
    fits_likeness,
    fits_state,
    likeness,
)

_BY_STATE = ("in_milk", "bred", "kidded", "suckles", "weaned", "covered")


class Offer(Struct, frozen=True):
    """An item that can be for an animal; ``by_state`` where its state has still to be asked.

    ``over_after``: the age in days after which nothing of it is told any more.
    """

    item: Item
    by_state: bool
    over_after: int | None

    def open_to(self, goat: Goat) -> bool:
        """Whether the state of an animal is the one the item asks for."""
        return not self.by_state or fits_state(goat, self.item.whom)


class Likely(Struct, frozen=True):
    """The offers to animals alike: at any time, after an act of a kind, about a due date.

    ``company``: whether one of them rests on who stands in the pen.
    """

    steady: list[Offer]
    after: dict[str, list[Offer]]
    due: list[Offer]
    company: bool


class Offers:
    """The items of one plan by what animals are like and how old they are."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self._offers = [_offer(item) for item in plan.items if item.on == "animal"]
        self._turning_ages = sorted({age for one in self._offers for age in _turns(one)})
        self._of_places: list[Whom] = []
        for item in plan.items:
            if item.on != "animal" and item.whom not in self._of_places:
                self._of_places.append(item.whom)
        self._likely: dict[tuple[Likeness, int | None, bool], Likely] = {}

    def to(self, goat: Goat, long_gone: bool) -> Iterator[Item]:
        """The items that are for an animal today; what can follow an act only where one is on record.

        What is over for good at its age is left out, unless what is ``long_gone`` is asked for.
        """
        likely = self._of(goat, long_gone)
        kinds = goat.past.kinds
        following = (offers for kind, offers in likely.after.items() if kind in kinds)
        due = likely.due if likely.due and carried(goat) is not None else []
        for offer in chain(likely.steady, *following, due):
            if offer.open_to(goat):
                yield offer.item

    def _of(self, goat: Goat, long_gone: bool) -> Likely:
        """The offers to an animal; those between whose ages none turns share them."""
        age = goat.age_days
        key = (
            likeness(goat),
            None if age is None else bisect_right(self._turning_ages, age),
            long_gone,
        )
        found = self._likely.get(key)
        if found is None:
            found = self._likely[key] = _likely(
                [
                    offer
                    for offer in self._offers
                    if (long_gone or offer.over_after is None or (age or 0) <= offer.over_after)
                    and fits_likeness(key[0], offer.item.whom)
                    and fits_age(goat, offer.item.whom)
                ]
            )
        return found

    def place_work(self, goat: Goat) -> list[bool]:
        """Which work on pens and farm is for an animal: all that it asks of those who stand there."""
        return [fits(goat, whom) for whom in self._of_places]

    def ask_company(self, goat: Goat) -> bool:
        """Whether any of them rests on who stands in an animal's pen with it."""
        return self._of(goat, long_gone=False).company and any(
            item.met_if == APART for item in self.to(goat, long_gone=False)
        )


def _likely(offers: list[Offer]) -> Likely:
    found = Likely([], {}, [], any(offer.item.met_if == APART for offer in offers))
    for offer in offers:
        if offer.item.after is not None:
            found.after.setdefault(offer.item.after.kind, []).append(offer)
        elif offer.item.due_date is not None:
            found.due.append(offer)
        else:
            found.steady.append(offer)
    return found


def _offer(item: Item) -> Offer:
    by_state = any(getattr(item.whom, name) is not None for name in _BY_STATE)
    return Offer(item, by_state, _over_after(item))


def _turns(offer: Offer) -> Iterator[int]:
    """The ages on which an offer opens or is closed."""
    whom = offer.item.whom
    if whom.from_age_days is not None:
        yield whom.from_age_days
    for last in (whom.to_age_days, offer.over_after):
        if last is not None:
            yield last + 1


def _over_after(item: Item) -> int | None:
    if not item.window or any(window.lost is None for window in item.window):
        return None
    return max(_last_day(window) for window in item.window) + item.missed_days


def _last_day(window: AgeWindow) -> int:
    assert window.lost is not None
    return window.lost // 24 + 1 if window.hours else window.lost
