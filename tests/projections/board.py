"""What the projection tests ask of a yard: rounds, one line of work, a goat, holds at a moment."""

from __future__ import annotations

from datetime import datetime

from herdsync.answers import DueLine, Hold
from herdsync.projections.due import Rounds
from herdsync.projections.farm_items import plan_in_force
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.holds import holds
from herdsync.projections.settings import settings_of
from tests.farmyard import Yard


def herd_at(yard: Yard, at: str, device: str = "") -> Herd:
    """The herd of a yard at a moment; a bare date means noon UTC."""
    moment = datetime.fromisoformat(at if "T" in at else f"{at}T12:00:00+00:00")
    records = yard.records(device)
    return Herd(records, settings_of(records), moment)


def rounds_at(yard: Yard, at: str, device: str = "") -> Rounds:
    """The due work of a yard at a moment, under the plan in force."""
    herd = herd_at(yard, at, device)
    return Rounds(herd, plan_in_force(herd.records, herd.look.settings).plan)


def goat_of(herd: Herd, id: bytes) -> Goat:
    """The animal with this id."""
    found = herd.goat(id)
    assert found is not None
    return found


def work(yard: Yard, animal: bytes, item: str, at: str, device: str = "") -> DueLine | None:
    """The line of one item of one animal (the first of its parts), what is ahead included."""
    rounds = rounds_at(yard, at, device)
    lines = rounds.of_goat(goat_of(rounds.herd, animal), everything=True)
    named = [line for line in lines if line.item == item or line.item.startswith(f"{item}-d")]
    return min(named, key=lambda line: line.opens, default=None)


def due(yard: Yard, animal: bytes, item: str, at: str, device: str = "") -> DueLine:
    """As `work`, where there must be one."""
    found = work(yard, animal, item, at, device)
    assert found is not None, f"no {item} at {at}"
    return found


def hold(yard: Yard, animal: bytes, what: str, at: str, device: str = "") -> Hold | None:
    """The hold of that word on an animal at a moment."""
    herd = herd_at(yard, at, device)
    found = [one for one in holds(herd, goat_of(herd, animal)) if one.what == what]
    return found[0] if found else None


def hours(number: int) -> list[int | str]:
    """So many hours, as a withdrawal stores them."""
    return [number, 0, "h"]


def days(number: int) -> list[int | str]:
    """So many days, as a withdrawal stores them."""
    return [number, 0, "d"]
