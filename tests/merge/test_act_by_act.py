"""Disagreements kept up to date act by act: after each act they are what the slow model finds in all."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from tests.farmyard import Yard
from tests.merge.slow_rules import Rules
from tests.merge.test_promises import at_length
from tests.merge.test_slow_model import found_in

TIMES = (
    "2026-01", "2026-02", "2026-01-01", "2026-01-03", "2026-01-31", "2026-02-01", "2026-02-02",
    "2026-01-01T23:30:00-11:00", "2026-01-02T00:30:00+13:00", "2026-02-01T06:00:00Z",
)  # fmt: skip
ACTS = ("leaving", "death", "arrival", "hoof-trim", "weighing", "kidding", "milk", "pen-move")
PLACES = st.integers(0, 4)
DEVICES = st.sampled_from(["house", "barn"])

Step = tuple[str, str, int, int, int]


def agrees(yard: Yard) -> None:
    """Every laptop's disagreements are those of its entries, told slowly."""
    for device in yard.devices.values():
        model = Rules(list(device.replica.entries.values()))
        assert found_in(device.replica.shelf) == model.conflicts()


def about(kind: str, animal: bytes, pen: bytes, on: str) -> dict[str, Any]:
    subject = "doe" if kind in ("kidding", "milk") else "animal"
    more: dict[str, dict[str, Any]] = {
        "pen-move": {"pen": pen}, "milk": {"milking": "morning", "milk_kg": [2, 0, "kg"]},
        "weighing": {"weight_kg": [20, 0, "kg"]}, "leaving": {"how": "sold"},
        "hoof-trim": {"front_left": "ok"},
    }  # fmt: skip
    return {subject: animal, "on": on, **more.get(kind, {})}


def stands(yard: Yard, device: str, id: bytes) -> bool:
    """Whether the device knows the record, and it stands."""
    known = yard.shelf(device).get(id)
    return known is not None and known.counts


@at_length
@given(
    st.lists(st.tuples(st.sampled_from([*ACTS, "amend", "retract", "same", "meet"]),
                       DEVICES, PLACES, PLACES, st.integers(0, len(TIMES) - 1)), max_size=14)
)  # fmt: skip
def test_acts_on_animals_that_leave_and_come_back(steps: list[Step]) -> None:
    yard = Yard()
    animals = [yard.animal("Agate", sex="doe"), yard.animal("Opal", sex="doe")]
    pens = [yard.write("house", "pen", name=name) for name in ("yard", "barn")]
    yard.meet()
    written: list[tuple[bytes, str]] = []
    for name, device, one, other, time in steps:
        animal, on = animals[one % 2], TIMES[time]
        if name == "meet":
            yard.meet()
        elif name == "same":
            yard.same(device, *animals)
        elif name in ACTS:
            fields = about(name, animal, pens[other % 2], on)
            written.append((yard.write(device, name, **fields), name))
        elif written:
            id, kind = written[(5 * one + other) % len(written)]
            if not stands(yard, device, id):
                continue
            if name == "amend":
                yard.amend(device, id, **about(kind, animal, pens[other % 2], on))
            else:
                yard.retract(device, id)
        agrees(yard)


@at_length
@given(
    st.lists(st.tuples(st.sampled_from(["dam", "sire", "tag", "born", "retract", "meet"]),
                       DEVICES, PLACES, PLACES, st.integers(0, 2)), max_size=14)
)  # fmt: skip
def test_animals_that_change_parents_and_marks(steps: list[Step]) -> None:
    yard = Yard()
    ids = [yard.animal(f"Goat {n}", sex=("doe", "buck")[n % 2]) for n in range(5)]
    for name, device, one, other, number in steps:
        told: dict[str, Any] = {
            "dam": ids[other], "sire": ids[other], "tag": f"0{number}",
            "born": ("2025-01-01", "2025-06", "2026-01-01")[number],
        }  # fmt: skip
        if name == "meet":
            yard.meet()
        elif not stands(yard, device, ids[one]):
            continue
        elif name == "retract":
            yard.retract(device, ids[one])
        else:
            yard.amend(device, ids[one], **{name: told[name]})
        agrees(yard)
