"""The farm's own papers: settings, care-plan items, work skipped or put off, counts and notes."""

from typing import Annotated

from msgspec import Struct

from herdsync.kinds.field import Says
from herdsync.kinds.forms import Choice, Count, Key
from herdsync.kinds.kind import kind_of
from herdsync.kinds.lines import (
    ANY_RECORD,
    DATE,
    FLAG,
    HEADS,
    LONG_TEXT,
    NAME,
    PEN,
    Animal,
    Because,
    Id,
    Note,
    OptionalCount,
    OptionalFlag,
    OptionalId,
    OptionalText,
    OptionalTexts,
    SaidBy,
    When,
)
from herdsync.kinds.seasons import SEASON_DAY

KEY = Key()
AGE_DAYS = Count(0, 10_000)
EVERY_DAYS = Count(1, 4_000)
LATER_DAYS = Count(-400, 4_000)
CHORE = Choice(("morning", "midday", "evening", "night", "both"))
FOLLOWS = Choice(("latest", "first", "each"))
COUNTED_FROM = Choice(("due", "earliest", "latest"))
SEX_OF = Choice(("doe", "buck", "intersex", "wether", "male"), open=True)
HORNS_OF = Choice(("horned", "polled", "disbudded", "scurs"), open=True)


class Setting(Struct):
    """One setting of the farm."""

    key: Annotated[str, Says("Which setting.", KEY)]
    value: Annotated[str, Says("What it is set to.", LONG_TEXT)]
    because: Because = None


class PlanItem(Struct):
    """One item of the care plan: the farm's own, or its change to a shipped one."""

    item: Annotated[str, Says("The name of the item; a shipped item's name changes it.", KEY)]
    title: Annotated[OptionalText, Says("The work in a few words.", NAME)] = None
    kind: Annotated[OptionalText, Says("The kind of record that does the work.", KEY)] = None
    done_with: Annotated[
        OptionalTexts, Says("Only such records do it, as field=value.", NAME, many=True)
    ] = None
    says: Annotated[OptionalText, Says("What to know while doing it.", LONG_TEXT)] = None
    retired: Annotated[OptionalFlag, Says("Whether the item no longer counts.", FLAG)] = None
    pen: Annotated[OptionalId, Says("The pen it is for, if for a pen.", PEN)] = None
    whole_farm: Annotated[
        OptionalFlag, Says("Once for the whole farm, not for each animal or pen.", FLAG)
    ] = None
    sex: Annotated[OptionalText, Says("Only animals of this sex.", SEX_OF)] = None
    horns: Annotated[OptionalText, Says("Only animals with such heads.", HORNS_OF)] = None
    kept_as: Annotated[OptionalText, Says("Only animals kept as this.", NAME)] = None
    size: Annotated[OptionalText, Says("Only animals of this breed size.", NAME)] = None
    groups: Annotated[OptionalTexts, Says("Only animals of these groups.", NAME, many=True)] = None
    in_milk: Annotated[OptionalFlag, Says("Only does in milk, or only those dry.", FLAG)] = None
    from_age_days: Annotated[OptionalCount, Says("Only from this age.", AGE_DAYS)] = None
    to_age_days: Annotated[OptionalCount, Says("Only up to this age.", AGE_DAYS)] = None
    bred: Annotated[OptionalFlag, Says("Only does that are bred, or only open ones.", FLAG)] = None
    kidded: Annotated[OptionalFlag, Says("Only does that have kidded, or not yet.", FLAG)] = None
    suckles: Annotated[OptionalFlag, Says("Only kids that suck, or bottle kids.", FLAG)] = None
    weaned: Annotated[OptionalFlag, Says("Only the weaned, or those not yet.", FLAG)] = None
    quarantine: Annotated[
        OptionalFlag, Says("Only pens for newcomers, or only the others.", FLAG)
    ] = None
    every_days: Annotated[OptionalCount, Says("Every so many days.", EVERY_DAYS)] = None
    first_age_days: Annotated[OptionalCount, Says("The first time at this age.", AGE_DAYS)] = None
    early_days: Annotated[OptionalCount, Says("It may be done so many days early.", AGE_DAYS)] = (
        None
    )
    grace_days: Annotated[
        OptionalCount, Says("It is late so many days after its day.", AGE_DAYS)
    ] = None
    months: Annotated[OptionalTexts, Says("Only in these months, by number.", NAME, many=True)] = (
        None
    )
    chore: Annotated[OptionalText, Says("At each morning or evening chore.", CHORE)] = None
    after: Annotated[OptionalText, Says("The kind of act it follows.", KEY)] = None
    after_with: Annotated[
        OptionalTexts, Says("Only after such acts, as field=value.", NAME, many=True)
    ] = None
    which: Annotated[
        OptionalText, Says("Follows the latest such act, the first, or each.", FOLLOWS)
    ] = None
    ladder: Annotated[
        OptionalTexts, Says("Days after the act to look again, such as 1,3,7.", NAME, many=True)
    ] = None
    until: Annotated[OptionalText, Says("The kind of act that ends it.", KEY)] = None
    until_with: Annotated[
        OptionalTexts, Says("Only such acts end it, as field=value.", NAME, many=True)
    ] = None
    counted_from: Annotated[
        OptionalText, Says("From the due date, or the first or last day she may kid.", COUNTED_FROM)
    ] = None
    in_hours: Annotated[OptionalFlag, Says("Ages are in hours, not days.", FLAG)] = None
    opens_days: Annotated[
        OptionalCount, Says("Opens so many days after birth, act or before due date.", LATER_DAYS)
    ] = None
    best_days: Annotated[OptionalCount, Says("Is best on this day.", LATER_DAYS)] = None
    closes_days: Annotated[OptionalCount, Says("Closes on this day.", LATER_DAYS)] = None
    lost_days: Annotated[
        OptionalCount, Says("After this day it can no longer be done.", LATER_DAYS)
    ] = None
    preset: Annotated[OptionalText, Says("Which of the item's presets counts.", KEY)] = None
    season_from: Annotated[OptionalText, Says("From this day of the year.", SEASON_DAY)] = None
    season_to: Annotated[OptionalText, Says("To this day of the year.", SEASON_DAY)] = None
    caution: Annotated[OptionalText, Says("What to beware of.", LONG_TEXT)] = None
    law: Annotated[OptionalText, Says("What law or licence may forbid.", LONG_TEXT)] = None
    source: Annotated[OptionalText, Says("Whose advice it is.", LONG_TEXT)] = None
    because: Because = None


class Skip(Struct):
    """One piece of due work that will not be done, and why."""

    work: Annotated[str, Says("The id of the due work.", KEY)]
    because: Annotated[str, Says("Why it is not done.", LONG_TEXT)]
    about: Annotated[OptionalId, Says("The animal or pen the work is for.", ANY_RECORD)] = None


class Postpone(Struct):
    """One piece of due work put off, until when, and why."""

    work: Annotated[str, Says("The id of the due work.", KEY)]
    until: Annotated[str, Says("The day it comes up again.", DATE, strict="earliest")]
    because: Annotated[str, Says("Why it is put off.", LONG_TEXT)]
    about: Annotated[OptionalId, Says("The animal or pen the work is for.", ANY_RECORD)] = None


class Exempt(Struct):
    """An item of the care plan that one animal is spared, and why."""

    animal: Animal
    item: Annotated[str, Says("The item of the care plan.", KEY)]
    because: Annotated[str, Says("Why it is spared.", LONG_TEXT)]
    until: Annotated[OptionalText, Says("Until when; left out, for good.", DATE)] = None
    said_by: SaidBy = None


class CountedHeads(Struct):
    """How many animals stood in a pen when somebody counted."""

    pen: Annotated[Id, Says("The pen counted.", PEN)]
    on: When
    heads: Annotated[int, Says("How many were there.", HEADS)]
    note: Note = None


class KeeperNote(Struct):
    """Words about an animal, a pen, any record, or the farm."""

    on: When
    text: Annotated[str, Says("The words.", LONG_TEXT)]
    about: Annotated[OptionalId, Says("What it is about; left out, the farm.", ANY_RECORD)] = None


class ChoreDone(Struct):
    """Work of the care plan done that has no sheet of its own."""

    # First, as ever: records are told in this order.
    about: Annotated[
        OptionalId, Says("The animal or pen it was done for; left out, the farm.", ANY_RECORD)
    ]
    on: When
    item: Annotated[str, Says("The item of the care plan.", KEY)]
    note: Note = None


KINDS = (
    kind_of(Setting, "setting", "setting", keyed="key", names=("key",)),
    kind_of(PlanItem, "plan-item", "care-plan item", keyed="item", names=("title", "item")),
    kind_of(Skip, "skip", "work skipped", keyed="work"),
    kind_of(Postpone, "postpone", "work put off", keyed="work"),
    kind_of(Exempt, "exempt", "animal spared an item", subject="animal"),
    kind_of(CountedHeads, "counted-heads", "count of heads"),
    kind_of(KeeperNote, "note", "note", subject="about"),
    kind_of(ChoreDone, "chore-done", "chore done", subject="about"),
)
