"""Coming and going: arrivals, leavings and deaths. Nothing of an animal that left is deleted."""

from typing import Annotated

from msgspec import Struct

from herdsync.kinds.cautions import ARRIVAL, DEATH, LEAVING
from herdsync.kinds.field import Says
from herdsync.kinds.forms import Choice
from herdsync.kinds.kind import PairRule, kind_of
from herdsync.kinds.lines import (
    DATE,
    LONG_TEXT,
    NAME,
    WHEN,
    Animal,
    Note,
    OptionalText,
    When,
)

HOW_CAME = Choice(
    ("bought", "given", "lent", "returned", "visiting"), open=True, also={"gift": "given"}
)
HOW_LEFT = Choice(
    ("sold", "given", "lent", "culled", "returned"),
    also={"gift": "given", "gave": "given", "loan": "lent", "slaughtered": "culled"},
    not_here={
        "died": "Record a death.",
        "dead": "Record a death.",
    },
)
HOW_DIED = Choice(("found-dead", "died", "put-down", "accident", "predator"), open=True)


class Arrival(Struct):
    """An animal that came to the farm."""

    animal: Animal
    on: When
    how: Annotated[OptionalText, Says("How it came.", HOW_CAME)] = None
    source: Annotated[OptionalText, Says("Where it came from.", LONG_TEXT)] = None
    quarantine_until: Annotated[
        OptionalText, Says("Until when it is kept apart.", DATE, strict="latest")
    ] = None
    papers: Annotated[OptionalText, Says("Numbers of papers that came with it.", LONG_TEXT)] = None
    note: Note = None


class Leaving(Struct):
    """An animal that left the farm alive or for slaughter."""

    animal: Animal
    on: When
    how: Annotated[str, Says("Sold, given, lent, culled, or returned.", HOW_LEFT)]
    to: Annotated[OptionalText, Says("To whom or where.", LONG_TEXT)] = None
    until: Annotated[OptionalText, Says("When it is to come back, if lent.", WHEN)] = None
    papers: Annotated[OptionalText, Says("Numbers of papers that went with it.", LONG_TEXT)] = None
    note: Note = None


class Death(Struct):
    """An animal that died or was put down."""

    animal: Animal
    on: When
    how: Annotated[OptionalText, Says("How it died.", HOW_DIED)] = None
    cause: Annotated[OptionalText, Says("Cause, if known, and who says so.", LONG_TEXT)] = None
    disposal: Annotated[OptionalText, Says("Where the body went.", NAME)] = None
    note: Note = None


KINDS = (
    kind_of(Arrival, "arrival", "arrival", subject="animal", caution=ARRIVAL),
    kind_of(
        Leaving,
        "leaving",
        "leaving",
        subject="animal",
        pair=PairRule(same_fields=("animal",), within_hours=48),
        caution=LEAVING,
        critical=True,
    ),
    kind_of(
        Death,
        "death",
        "death",
        subject="animal",
        pair=PairRule(same_fields=("animal",), within_hours=48),
        caution=DEATH,
        critical=True,
    ),
)
