"""The catalogue: every kind of record by name, gathered from its family."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from herdsync.faults import Refused
from herdsync.kinds import (
    breeding,
    castration,
    checks,
    farm,
    feed,
    going,
    growth,
    hooves,
    horns,
    identity,
    medicine,
    milk,
    tattoo,
)
from herdsync.kinds.kind import Kind
from herdsync.kinds.texts import nearest

_FAMILIES = (
    identity,
    hooves,
    horns,
    castration,
    tattoo,
    checks,
    growth,
    medicine,
    breeding,
    milk,
    feed,
    going,
    farm,
)

CATALOGUE: Mapping[str, Kind] = MappingProxyType(
    {kind.name: kind for family in _FAMILIES for kind in family.KINDS}
)


def kind_named(name: str) -> Kind:
    """The kind called ``name``. Raises Refused naming the nearest."""
    if name in CATALOGUE:
        return CATALOGUE[name]
    like = nearest(name, tuple(CATALOGUE))
    hint = f"Did you mean {like}?" if like else f"Kinds are: {', '.join(CATALOGUE)}."
    raise Refused(f"No kind of record is called {name[:60]!r}.", hint)
