"""Horns: disbudding, and the scurs that grow where a bud was missed."""

from typing import Annotated

from msgspec import Struct

from herdsync.kinds.cautions import HOT_IRON, SCUR
from herdsync.kinds.field import Says
from herdsync.kinds.forms import Choice, Count
from herdsync.kinds.kind import PairRule, kind_of
from herdsync.kinds.lines import (
    FLAG,
    LONG_TEXT,
    NAME,
    SMALL_LENGTH,
    Animal,
    Note,
    OptionalAmount,
    OptionalCount,
    OptionalFlag,
    OptionalText,
    When,
)
from herdsync.kinds.quantities import Quantity

METHOD = Choice(("hot-iron", "surgical", "paste", "cold"), open=True, also={"iron": "hot-iron"})
DIRECTION = Choice(
    ("outwards", "backwards", "forwards", "down", "towards-eye", "towards-skull", "touching-skull"),
    open=True,
)


class Disbudding(Struct):
    """The horn buds of a kid destroyed."""

    animal: Animal
    on: When
    applications: Annotated[
        OptionalCount, Says("How often the iron was set on each bud.", Count(1, 10))
    ] = None
    seconds: Annotated[
        OptionalAmount,
        Says("How long each application lasted.", Quantity("s", "0.1", "120")),
    ] = None
    method: Annotated[OptionalText, Says("How it was done.", METHOD)] = None
    by_whom: Annotated[OptionalText, Says("Who did it, with licence if needed.", NAME)] = None
    pain_relief: Annotated[
        OptionalText, Says("Pain relief given, as the veterinarian advised.", LONG_TEXT)
    ] = None
    note: Note = None


class Scurs(Struct):
    """Scurs looked at: how long each is and where it grows."""

    animal: Animal
    on: When
    left_mm: Annotated[OptionalAmount, Says("Length of the left scur.", SMALL_LENGTH)] = None
    right_mm: Annotated[OptionalAmount, Says("Length of the right scur.", SMALL_LENGTH)] = None
    left_gap_mm: Annotated[
        OptionalAmount, Says("What is left between the left one's tip and the skin.", SMALL_LENGTH)
    ] = None
    right_gap_mm: Annotated[
        OptionalAmount, Says("What is left between the right one's tip and the skin.", SMALL_LENGTH)
    ] = None
    left_direction: Annotated[OptionalText, Says("Where the left one grows.", DIRECTION)] = None
    right_direction: Annotated[OptionalText, Says("Where the right one grows.", DIRECTION)] = None
    loose: Annotated[OptionalFlag, Says("Whether one is loose.", FLAG)] = None
    trimmed: Annotated[OptionalFlag, Says("Whether the tip was taken off.", FLAG)] = None
    note: Note = None


KINDS = (
    kind_of(
        Disbudding,
        "disbudding",
        "disbudding",
        subject="animal",
        pair=PairRule(same_fields=("animal",), within_hours=48),
        caution=HOT_IRON,
    ),
    kind_of(Scurs, "scurs", "scurs", subject="animal", caution=SCUR),
)
