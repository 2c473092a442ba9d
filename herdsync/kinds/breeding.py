"""Breeding: heats, matings, pregnancy checks, kiddings, losses and drying off."""

from typing import Annotated

from msgspec import Struct

from herdsync.kinds.cautions import ABORTION, DRY_OFF, KIDDING, MATING
from herdsync.kinds.field import Says
from herdsync.kinds.forms import Choice, Count, Ref
from herdsync.kinds.kind import PairRule, kind_of
from herdsync.kinds.lines import (
    ANIMAL,
    FLAG,
    LONG_TEXT,
    NAME,
    WHEN,
    Doe,
    Note,
    OptionalCount,
    OptionalFlag,
    OptionalId,
    OptionalText,
    When,
)

SIGNS = Choice(("standing", "flagging", "calling", "mounting", "discharge"), open=True)
HOW_MATED = Choice(
    ("hand", "pen", "ai"),
    also={
        "hand-mating": "hand",
        "hand-bred": "hand",
        "pen-mating": "pen",
        "pasture": "pen",
        "artificial": "ai",
        "artificial-insemination": "ai",
    },
)
RESULT = Choice(
    ("open", "unsure", "bred", "lost"),
    also={
        "empty": "open",
        "not-pregnant": "open",
        "pregnant": "bred",
        "settled": "bred",
        "positive": "bred",
        "negative": "open",
        "aborted": "lost",
    },
)
HOW_CHECKED = Choice(("scan", "blood", "milk", "no-return", "felt"), open=True)
EASE = Choice(("unassisted", "some-help", "hard", "vet", "surgery"), open=True)
KIDS = Count(0, 12)


class Heat(Struct):
    """A doe seen in heat."""

    doe: Doe
    on: When
    signs: Annotated[OptionalText, Says("What was seen.", SIGNS)] = None
    until: Annotated[OptionalText, Says("When it was over.", WHEN)] = None
    note: Note = None


class Mating(Struct):
    """A doe mated: by hand, running with a buck, or by artificial insemination."""

    doe: Doe
    on: Annotated[
        str,
        Says(
            "When, or when the buck came in; left out, it is now.",
            WHEN,
            bond="service",
            default_now=True,
        ),
    ]
    buck: Annotated[OptionalId, Says("The buck; an outside sire is an animal too.", ANIMAL)] = None
    until: Annotated[
        OptionalText, Says("When the buck went out, for pen mating.", WHEN, bond="service")
    ] = None
    how: Annotated[OptionalText, Says("By hand, in a pen, or ai.", HOW_MATED)] = None
    seen: Annotated[OptionalFlag, Says("Whether a mount was seen.", FLAG)] = None
    straw: Annotated[OptionalText, Says("Code on the straw, for ai.", NAME)] = None
    by_whom: Annotated[OptionalText, Says("Who inseminated or led them.", NAME)] = None
    note: Note = None


class PregnancyCheck(Struct):
    """What a test says of whether a doe is pregnant."""

    doe: Doe
    on: When
    result: Annotated[str, Says("Open, unsure, bred, or lost.", RESULT)]
    how: Annotated[OptionalText, Says("How it was found.", HOW_CHECKED)] = None
    kids: Annotated[OptionalCount, Says("Kids counted, by scan.", KIDS)] = None
    mating: Annotated[OptionalId, Says("The mating it is about.", Ref("mating"))] = None
    note: Note = None


class Kidding(Struct):
    """A doe kidding; each kid is an animal of its own that names this kidding."""

    doe: Doe
    on: When
    ease: Annotated[OptionalText, Says("How easily it went.", EASE)] = None
    born_alive: Annotated[OptionalCount, Says("Kids born alive.", KIDS)] = None
    born_dead: Annotated[OptionalCount, Says("Kids born dead.", KIDS)] = None
    mating: Annotated[OptionalId, Says("The mating it came from.", Ref("mating"))] = None
    cleansed: Annotated[OptionalFlag, Says("Whether the afterbirth came whole.", FLAG)] = None
    helped_by: Annotated[OptionalText, Says("Who helped.", NAME)] = None
    note: Note = None


class Abortion(Struct):
    """A pregnancy lost before its time."""

    doe: Doe
    on: When
    kids: Annotated[OptionalCount, Says("Kids lost.", KIDS)] = None
    cause: Annotated[OptionalText, Says("Cause, if known.", LONG_TEXT)] = None
    sampled: Annotated[OptionalFlag, Says("Whether samples went to a laboratory.", FLAG)] = None
    note: Note = None


class DryOff(Struct):
    """The last milking of a doe before her next kidding."""

    doe: Doe
    on: When
    how: Annotated[OptionalText, Says("At once or by steps.", NAME)] = None
    note: Note = None


KINDS = (
    kind_of(Heat, "heat", "heat", subject="doe"),
    kind_of(
        Mating,
        "mating",
        "mating",
        subject="doe",
        pair=PairRule(same_fields=("doe", "buck"), or_same_date=True),
        caution=MATING,
        critical=True,
    ),
    kind_of(PregnancyCheck, "pregnancy-check", "pregnancy check", subject="doe"),
    kind_of(
        Kidding,
        "kidding",
        "kidding",
        subject="doe",
        pair=PairRule(same_fields=("doe",), within_hours=30 * 24),
        caution=KIDDING,
        critical=True,
    ),
    kind_of(Abortion, "abortion", "abortion", subject="doe", caution=ABORTION),
    kind_of(DryOff, "dry-off", "drying off", subject="doe", caution=DRY_OFF),
)
