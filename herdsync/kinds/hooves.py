"""Hooves: each foot is a field, so that two keepers' findings on two feet do not disagree."""

from typing import Annotated

from msgspec import Struct

from herdsync.kinds.cautions import HOOF
from herdsync.kinds.field import Says
from herdsync.kinds.forms import Choice
from herdsync.kinds.kind import PairRule, kind_of
from herdsync.kinds.lines import FLAG, Animal, Note, OptionalFlag, OptionalText, When

FOOT = Choice(
    ("ok", "trimmed", "overgrown", "soft", "nicked", "rot", "abscess", "lame", "not-done"),
    open=True,
)


class HoofTrim(Struct):
    """The hooves of an animal trimmed, with what each foot showed."""

    animal: Animal
    on: When
    front_left: Annotated[OptionalText, Says("The left front foot.", FOOT)] = None
    front_right: Annotated[OptionalText, Says("The right front foot.", FOOT)] = None
    hind_left: Annotated[OptionalText, Says("The left hind foot.", FOOT)] = None
    hind_right: Annotated[OptionalText, Says("The right hind foot.", FOOT)] = None
    lame: Annotated[
        OptionalFlag, Says("Whether it goes lame; a recheck follows.", FLAG, strict="most")
    ] = None
    heavy: Annotated[
        OptionalFlag, Says("Whether much had to be corrected; a recheck follows.", FLAG)
    ] = None
    note: Note = None


KINDS = (
    kind_of(
        HoofTrim,
        "hoof-trim",
        "hoof trim",
        subject="animal",
        pair=PairRule(same_fields=("animal",), within_hours=48),
        caution=HOOF,
    ),
)
