"""Milk: single milkings, and test days with fat, protein and cells. Held milk was still given."""

from typing import Annotated

from msgspec import Struct

from herdsync.kinds.cautions import UDDER_LOOK
from herdsync.kinds.field import Says
from herdsync.kinds.forms import Choice, Count
from herdsync.kinds.kind import PairRule, kind_of
from herdsync.kinds.lines import (
    FLAG,
    MILK_WEIGHT,
    NAME,
    SHARE,
    Amount,
    Doe,
    Note,
    OptionalAmount,
    OptionalCount,
    OptionalFlag,
    OptionalText,
    When,
)

MILKING = Choice(
    ("morning", "noon", "evening", "night"), also={"am": "morning", "pm": "evening"}, open=True
)
UDDER = Choice(("clear", "trace", "thickened", "gel", "clots"), open=True)


class Milk(Struct):
    """What a doe gave at one milking."""

    doe: Doe
    on: When
    milk_kg: Annotated[Amount, Says("How much she gave, weighed.", MILK_WEIGHT)]
    milking: Annotated[OptionalText, Says("Which milking of the day.", MILKING)] = None
    sold: Annotated[
        OptionalFlag, Says("Whether it went into the milk that is sold.", FLAG, strict="most")
    ] = None
    note: Note = None


class TestDay(Struct):
    """A day's milk of a doe, sampled for what is in it."""

    __test__ = False

    doe: Doe
    on: When
    milk_kg: Annotated[OptionalAmount, Says("Milk of 24 hours.", MILK_WEIGHT)] = None
    fat_percent: Annotated[OptionalAmount, Says("Fat.", SHARE)] = None
    protein_percent: Annotated[OptionalAmount, Says("Protein.", SHARE)] = None
    lactose_percent: Annotated[OptionalAmount, Says("Lactose.", SHARE)] = None
    cells_per_ml: Annotated[
        OptionalCount, Says("Somatic cells per millilitre.", Count(0, 100_000_000))
    ] = None
    laboratory: Annotated[OptionalText, Says("Who tested.", NAME)] = None
    note: Note = None


class UdderCheck(Struct):
    """Milk of each half tried for a hidden inflammation."""

    doe: Doe
    on: When
    left: Annotated[OptionalText, Says("What the left half showed.", UDDER, strict="most")] = None
    right: Annotated[OptionalText, Says("What the right half showed.", UDDER, strict="most")] = None
    method: Annotated[OptionalText, Says("How it was tried.", NAME)] = None
    note: Note = None


KINDS = (
    kind_of(
        Milk,
        "milk",
        "milking",
        subject="doe",
        pair=PairRule(same_fields=("doe", "milking"), or_same_date=True),
    ),
    kind_of(UdderCheck, "udder-check", "udder check", subject="doe", caution=UDDER_LOOK),
    kind_of(TestDay, "test-day", "milk test day", subject="doe"),
)
