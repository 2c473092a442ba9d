"""Who is who and who stands where: animals, pens and moves between them.

Wether, disbudded, in milk, sold and the like are worked out from other records, never typed.
"""

from typing import Annotated

from msgspec import Struct

from herdsync.kinds.field import Says
from herdsync.kinds.forms import Choice, Count, Ref
from herdsync.kinds.kind import PairRule, kind_of
from herdsync.kinds.lines import (
    ANIMAL,
    FLAG,
    LONG_TEXT,
    NAME,
    PEN,
    WEIGHT,
    WHEN,
    Animal,
    Because,
    Id,
    Note,
    OptionalAmount,
    OptionalCount,
    OptionalFlag,
    OptionalId,
    OptionalText,
    OptionalTexts,
)
from herdsync.kinds.marks import CHIP, MARK

SEX = Choice(
    ("unknown", "doe", "buck", "intersex"),
    also={"female": "doe", "doeling": "doe", "male": "buck", "buckling": "buck"},
    not_here={
        "wether": "Write the sex as born (buck) and record his castration; wether follows from it."
    },
)
SIZE = Choice(("standard", "miniature"), also={"mini": "miniature"})
HORNS_BORN = Choice(
    ("unknown", "horned", "polled"),
    not_here={
        "disbudded": "Write what it was born with, and record the disbudding.",
        "scurs": "Write what it was born with, and record the scurs.",
    },
)
STANDING = Choice(
    ("here", "away", "outside"),
    not_here={
        "sold": "Record its leaving; sold follows from it.",
        "dead": "Record its death; dead follows from it.",
    },
)
KEPT_AS = Choice(("milker", "stud", "pet", "show", "meat", "pack"), open=True)
PARENTS_KNOWN = Choice(("unknown", "stated", "seen", "tested"), also={"dna": "tested"})
PRESENTATION = Choice(("head-and-feet", "one-leg-back", "head-back", "breech", "tail"), open=True)


class AnimalSheet(Struct):
    """One animal: of the herd, of its pedigree, or visiting."""

    name: Annotated[OptionalText, Says("What it is called.", NAME)] = None
    sex: Annotated[OptionalText, Says("Sex as born.", SEX)] = None
    born: Annotated[
        OptionalText, Says("When it was born, as exactly as is known: month, date, moment.", WHEN)
    ] = None
    breed: Annotated[OptionalText, Says("Its breed.", NAME)] = None
    size: Annotated[OptionalText, Says("Breed size, for gestation and windows.", SIZE)] = None
    colour: Annotated[OptionalText, Says("Colour and markings.", NAME)] = None
    horns_born: Annotated[OptionalText, Says("Horned or polled as born.", HORNS_BORN)] = None
    sire: Annotated[OptionalId, Says("Its father.", ANIMAL)] = None
    dam: Annotated[OptionalId, Says("Its mother.", ANIMAL)] = None
    raised_by: Annotated[OptionalId, Says("The doe it drinks from, if not its dam.", ANIMAL)] = None
    suckles: Annotated[OptionalFlag, Says("Whether it drinks from a doe, not a bottle.", FLAG)] = (
        None
    )
    kidding: Annotated[OptionalId, Says("The kidding it was born in.", Ref("kidding"))] = None
    parents_known: Annotated[OptionalText, Says("How its parents are known.", PARENTS_KNOWN)] = None
    birth_order: Annotated[OptionalCount, Says("Its place in the litter.", Count(1, 12))] = None
    presentation: Annotated[OptionalText, Says("How it lay at birth.", PRESENTATION)] = None
    birth_help: Annotated[OptionalText, Says("What help its birth needed.", LONG_TEXT)] = None
    born_alive: Annotated[OptionalFlag, Says("Whether it was alive at birth.", FLAG)] = None
    tattoo_right: Annotated[OptionalText, Says("Tattoo in the goat's right ear.", MARK)] = None
    tattoo_left: Annotated[OptionalText, Says("Tattoo in the goat's left ear.", MARK)] = None
    tattoo_tail: Annotated[OptionalText, Says("Tattoo in the tail web.", MARK)] = None
    tag: Annotated[OptionalText, Says("Ear tag number.", MARK)] = None
    chip: Annotated[OptionalText, Says("Electronic code, 15 digits.", CHIP)] = None
    registry_no: Annotated[OptionalText, Says("Number in the herd book.", MARK)] = None
    registry_name: Annotated[OptionalText, Says("Name in the herd book.", NAME)] = None
    kept_as: Annotated[OptionalText, Says("What it is kept as.", KEPT_AS)] = None
    standing: Annotated[
        OptionalText,
        Says("Here, away for a time, or outside the herd (pedigree, visiting).", STANDING),
    ] = None
    groups: Annotated[
        OptionalTexts, Says("Groups it belongs to, as the keepers name them.", NAME, many=True)
    ] = None
    mature_kg: Annotated[
        OptionalAmount, Says("What it is expected to weigh full grown.", WEIGHT)
    ] = None
    note: Note = None


class PenSheet(Struct):
    """A place where animals are kept together."""

    name: Annotated[str, Says("What it is called.", NAME)]
    walk: Annotated[
        OptionalCount, Says("Its place in the order of a walk through the pens.", Count(0, 1000))
    ] = None
    quarantine: Annotated[OptionalFlag, Says("Whether newcomers are kept apart here.", FLAG)] = None
    note: Note = None


class PenMove(Struct):
    """An animal put into a pen."""

    animal: Animal
    pen: Annotated[Id, Says("The pen it was put into.", PEN, bond="place")]
    on: Annotated[
        str, Says("When it was moved; left out, it is now.", WHEN, bond="place", default_now=True)
    ]
    because: Because = None


KINDS = (
    kind_of(
        AnimalSheet,
        "animal",
        "animal",
        pair=PairRule(
            any_of=(
                ("tattoo_right", "tattoo_left"),
                ("tattoo_tail",),
                ("tag",),
                ("chip",),
                ("registry_no",),
                ("dam", "born", "sex"),
            )
        ),
        critical=True,
        names=("name", "registry_name", "tattoo_left", "tag"),
        marks=("tattoo_right", "tattoo_left", "tattoo_tail", "tag", "chip", "registry_no"),
    ),
    kind_of(PenSheet, "pen", "pen", names=("name",)),
    kind_of(PenMove, "pen-move", "move to a pen", subject="animal", critical=True),
)
