"""Castration: done when recorded complete; until then, and for weeks after, he counts as entire."""

from typing import Annotated

from msgspec import Struct

from herdsync.kinds.cautions import CASTRATION
from herdsync.kinds.field import Says
from herdsync.kinds.forms import Choice, Count
from herdsync.kinds.kind import PairRule, kind_of
from herdsync.kinds.lines import (
    FLAG,
    LONG_TEXT,
    NAME,
    Animal,
    Note,
    OptionalCount,
    OptionalFlag,
    OptionalText,
    When,
)

METHOD = Choice(
    ("ring", "clamp", "surgical"),
    also={
        "band": "ring",
        "banded": "ring",
        "banding": "ring",
        "ringed": "ring",
        "rubber-ring": "ring",
        "knife": "surgical",
        "surgery": "surgical",
    },
)
TETANUS = Choice(("none", "unknown", "dam-boosted", "antitoxin", "toxoid-series"), open=True)


class Castration(Struct):
    """A male castrated: by ring, clamp or surgery."""

    animal: Animal
    on: When
    method: Annotated[OptionalText, Says("Ring, clamp or surgery.", METHOD)] = None
    complete: Annotated[
        OptionalFlag,
        Says("Whether both testes were taken in for certain.", FLAG, strict="least"),
    ] = None
    testes: Annotated[
        OptionalCount, Says("How many testes were below ring or clamp.", Count(0, 2))
    ] = None
    tetanus: Annotated[OptionalText, Says("What covers him against tetanus.", TETANUS)] = None
    pain_relief: Annotated[
        OptionalText, Says("Pain relief given, as the veterinarian advised.", LONG_TEXT)
    ] = None
    by_whom: Annotated[OptionalText, Says("Who did it, with licence if needed.", NAME)] = None
    note: Note = None


KINDS = (
    kind_of(
        Castration,
        "castration",
        "castration",
        subject="animal",
        pair=PairRule(same_fields=("animal",), within_hours=48),
        caution=CASTRATION,
        critical=True,
    ),
)
