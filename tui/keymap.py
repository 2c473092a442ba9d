"""Keys that a keeper moved: read from the desk, held against the table of deeds. Must not know screens.

A key that would mean two deeds in one place is not moved, and a sentence says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from herdsync.deeds import EVERYWHERE, PLACES, Deed, deeds_of
from herdsync.desk import Desk

Keymap = Mapping[str, str]  # keys, parted by commas, by "place.deed" or "go.place"


def usual() -> dict[str, str]:
    """The keys of the table, by the id of their binding."""
    keys = {f"go.{place.id}": place.key for place in PLACES}
    for place in EVERYWHERE:
        keys |= {f"{place}.{deed.id}": ",".join(deed.keys) for deed in deeds_of(place)}
    return keys


def moved_keys(desk: Desk) -> tuple[dict[str, str], list[str]]:
    """The keys that count otherwise than in the table, and sentences on what could not be moved."""
    told, fault = desk.moved_keys()
    said = [fault] if fault else []
    known = usual()
    moved: dict[str, str] = {}
    for name, keys in sorted(told.items(), key=lambda one: "." in one[0]):
        ids = [name] if name in known else [id for id in known if id.split(".")[1] == name]
        if not ids or name.startswith("go."):
            said.append(f"keys.toml: no deed is called '{name}'.")
            continue
        moved |= dict.fromkeys(ids, ",".join(one.strip() for one in keys.split(",")))
    return _without_clashes(moved, known, said), said


def _without_clashes(
    moved: dict[str, str], known: Mapping[str, str], said: list[str]
) -> dict[str, str]:
    """Only the moves that leave each key one meaning in its place."""
    kept = dict(moved)
    for id, keys in moved.items():
        place, name = id.split(".")
        digits = {place.key for place in PLACES}
        for other, usual_keys in known.items():
            here = other.startswith(f"{place}.") and other != id
            taken = set(kept.get(other, usual_keys).split(",")) if here else digits
            shared = taken & set(keys.split(","))
            if shared and id in kept:
                what = other.split(".")[1] if here else "the way to a place"
                said.append(f"keys.toml: {min(shared)} is {what} already; {name} keeps its key.")
                del kept[id]
    return kept


def as_moved(place: str, deed: Deed, moved: Keymap) -> Deed:
    """A deed with the keys it has for this keeper in a place."""
    keys = moved.get(f"{place}.{deed.id}")
    return replace(deed, keys=tuple(keys.split(","))) if keys else deed
