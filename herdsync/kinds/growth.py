"""Growth: weights, how they were found, and weaning."""

from typing import Annotated

from msgspec import Struct

from herdsync.kinds.field import Says
from herdsync.kinds.forms import Choice
from herdsync.kinds.kind import PairRule, kind_of
from herdsync.kinds.lines import (
    BODY_LENGTH,
    FLAG,
    NAME,
    WEIGHT,
    Amount,
    Animal,
    Note,
    OptionalAmount,
    OptionalFlag,
    OptionalText,
    When,
)

HOW = Choice(
    ("scale", "girth-and-length", "girth-tape", "by-eye"),
    open=True,
    also={
        "weighed": "scale",
        "scales": "scale",
        "tape": "girth-tape",
        "girth": "girth-tape",
        "guess": "by-eye",
        "guessed": "by-eye",
        "estimate": "by-eye",
        "estimated": "by-eye",
    },
)


class Weighing(Struct):
    """What an animal weighed, and how that was found."""

    animal: Animal
    on: When
    weight_kg: Annotated[Amount, Says("What it weighed.", WEIGHT, bond="weight")]
    how: Annotated[
        OptionalText, Says("By scale, tape or eye: all but a scale is an estimate.", HOW, "weight")
    ] = None
    girth_cm: Annotated[
        OptionalAmount, Says("Heart girth, if taped.", BODY_LENGTH, bond="weight")
    ] = None
    length_cm: Annotated[
        OptionalAmount, Says("Point of shoulder to pin bone, if taped.", BODY_LENGTH, bond="weight")
    ] = None
    note: Note = None


class Weaning(Struct):
    """A kid taken off milk for good."""

    animal: Animal
    on: When
    eats: Annotated[OptionalFlag, Says("Whether it was eating hay and grain by then.", FLAG)] = None
    how: Annotated[OptionalText, Says("At once or by steps.", NAME)] = None
    note: Note = None


KINDS = (
    kind_of(
        Weighing,
        "weighing",
        "weighing",
        subject="animal",
        pair=PairRule(same_fields=("animal",), within_hours=48),
    ),
    kind_of(Weaning, "weaning", "weaning", subject="animal"),
)
