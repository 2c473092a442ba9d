"""Keys that a keeper moved: read from the desk, held against the table of deeds. Must not know screens.

A key that would mean two deeds in one place is not moved, and a sentence says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from herdsync.deeds import EVERYWHERE, PLACES, WALK, Deed, Place, deeds_of
from herdsync.desk import Desk

WAY = "go"
Keymap = Mapping[str, str]  # keys, parted by commas, by "place.deed" or "go.place"


def usual() -> dict[str, str]:
    """The keys of the table, by the id of their binding."""
    keys = {f"{WAY}.{place.id}": place.key for place in PLACES}
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
        ids = [name] if name in known else _everywhere(name, known)
        if not ids:
            said.append(f"keys.toml: no deed is called '{name}'.")
            continue
        moved |= dict.fromkeys(ids, ",".join(one.strip() for one in keys.split(",")))
    return _without_clashes(moved, known, said), said


def _everywhere(name: str, known: Mapping[str, str]) -> list[str]:
    """A deed in every place that offers it; ways to places are moved by their whole name alone."""
    return [id for id in known if id.split(".")[1] == name and not is_way(id)]


def is_way(id: str) -> bool:
    """Whether a key goes to a place."""
    return id.startswith(f"{WAY}.")


def _without_clashes(
    moved: dict[str, str], known: Mapping[str, str], said: list[str]
) -> dict[str, str]:
    """Only the moves that leave each key one meaning in its place."""
    kept = dict(moved)
    for id, keys in moved.items():
        name = id.split(".")[1]
        for other, usual_keys in known.items():
            if other == id or id not in kept or not _together(id, other):
                continue
            shared = set(kept.get(other, usual_keys).split(",")) & set(keys.split(","))
            if shared:
                place, what = other.split(".")
                what = f"the way to {what}" if place == WAY else what
                said.append(f"keys.toml: {min(shared)} is {what} already; {name} keeps its key.")
                del kept[id]
    return kept


def _together(id: str, other: str) -> bool:
    """Whether two keys meet: in one place, or one is a way to a place, which counts everywhere.

    In a walk the digits do the work by their number, and no way leads out but back.
    """
    places = {id.split(".")[0], other.split(".")[0]}
    return len(places) == 1 or (WAY in places and WALK not in places)


def way_to(place: Place, moved: Keymap) -> str:
    """The key, as it is pressed, that goes to a place."""
    return moved.get(f"{WAY}.{place.id}", place.key).split(",")[0]


def as_moved(place: str, deed: Deed, moved: Keymap) -> Deed:
    """A deed with the keys it has for this keeper in a place."""
    keys = moved.get(f"{place}.{deed.id}")
    return replace(deed, keys=tuple(keys.split(","))) if keys else deed
