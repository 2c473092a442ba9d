"""Tattoos: planned, test-read on card, done, and re-read on the ear. Sides are the goat's own."""

from typing import Annotated

from msgspec import Struct

from herdsync.kinds.cautions import TATTOO
from herdsync.kinds.field import Says
from herdsync.kinds.forms import Choice
from herdsync.kinds.kind import PairRule, kind_of
from herdsync.kinds.lines import NAME, Animal, Note, OptionalText, When
from herdsync.kinds.marks import MARK

STAGE = Choice(
    ("planned", "test-read", "done", "re-read"), also={"reread": "re-read", "read": "re-read"}
)
LEGIBILITY = Choice(("clear", "faint", "part-unreadable", "unreadable"), open=True)


class Tattoo(Struct):
    """A tattoo planned, tested on card, done, or read again on the animal."""

    animal: Animal
    on: When
    stage: Annotated[
        str, Says("Planned, test-read (card), done, or re-read (ear); its sheet follows.", STAGE)
    ]
    right: Annotated[OptionalText, Says("What the right ear is to show or shows.", MARK)] = None
    left: Annotated[OptionalText, Says("What the left ear is to show or shows.", MARK)] = None
    tail: Annotated[OptionalText, Says("What the tail web is to show or shows.", MARK)] = None
    legibility_right: Annotated[OptionalText, Says("How well the right ear reads.", LEGIBILITY)] = (
        None
    )
    legibility_left: Annotated[OptionalText, Says("How well the left ear reads.", LEGIBILITY)] = (
        None
    )
    legibility_tail: Annotated[OptionalText, Says("How well the tail web reads.", LEGIBILITY)] = (
        None
    )
    ink: Annotated[OptionalText, Says("Ink used.", NAME)] = None
    read_by: Annotated[OptionalText, Says("Who read it.", NAME)] = None
    note: Note = None


KINDS = (
    kind_of(
        Tattoo,
        "tattoo",
        "tattoo",
        subject="animal",
        pair=PairRule(same_fields=("animal", "stage"), within_hours=48),
        caution=TATTOO,
    ),
)
