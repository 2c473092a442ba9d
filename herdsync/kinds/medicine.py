"""Medicine: products as the keeper copied them off label or prescription, courses, doses, vaccines.

No drug name, rate or withdrawal of ours: every figure here was typed by a keeper, with who said so.
"""

from typing import Annotated

from msgspec import Struct

from herdsync.kinds.cautions import DISPOSAL, MEDICINE, VACCINE
from herdsync.kinds.field import Says
from herdsync.kinds.forms import Choice, Count, Ref
from herdsync.kinds.kind import PairRule, kind_of
from herdsync.kinds.lines import (
    DATE,
    DAYS,
    FLAG,
    HOURS,
    LONG_TEXT,
    NAME,
    PRODUCT,
    VOLUME,
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
    SaidBy,
    When,
)
from herdsync.kinds.quantities import Quantity

# The kinds of which every act may hold an animal's milk or meat.
MEDICINES = ("dose", "vaccination")

USE = Choice(
    ("wormer", "coccidia", "antibiotic", "vaccine", "pain-relief", "mineral", "topical"),
    open=True,
)
ROUTE = Choice(
    ("by-mouth", "under-skin", "in-muscle", "in-vein", "on-skin", "in-udder", "in-eye"),
    open=True,
    also={
        "oral": "by-mouth",
        "po": "by-mouth",
        "drench": "by-mouth",
        "sc": "under-skin",
        "subcutaneous": "under-skin",
        "im": "in-muscle",
        "intramuscular": "in-muscle",
        "iv": "in-vein",
        "intravenous": "in-vein",
        "pour-on": "on-skin",
        "topical": "on-skin",
    },
)
COUNTED_FROM = Choice(("last-dose", "kidding", "later-of-both"), also={"later": "later-of-both"})
ROUNDING = Choice(("nearest", "down", "up"))
STRENGTH = Quantity("mg/mL", "0", "10000")
RATE = Quantity("mg/kg", "0", "10000")
VOLUME_RATE = Quantity("mL/kg", "0", "1000")
STOCK = Quantity("mL", "0", "10000000")
SITE_VOLUME = Quantity("mL", "0.1", "100")
COURSE_DOSES = Count(1, 1000)

WhenGiven = Annotated[
    str,
    Says("When it was given; left out, it is now.", WHEN, strict="latest", default_now=True),
]
MilkHold = Annotated[
    OptionalAmount, Says("Hours milk is held after the last dose.", HOURS, "given", strict="most")
]
MeatHold = Annotated[
    OptionalAmount, Says("Days meat is held after the last dose.", DAYS, "given", strict="most")
]


class Product(Struct):
    """A medicine on the shelf, as its label or the veterinarian's written instruction has it."""

    substance: Annotated[str, Says("The active substance, as on the label.", NAME)]
    name: Annotated[OptionalText, Says("What the keepers call it.", NAME)] = None
    use: Annotated[OptionalText, Says("What it is for.", USE)] = None
    family: Annotated[
        OptionalText, Says("Its family of substances, for the history of resistance.", NAME)
    ] = None
    strength_mg_per_ml: Annotated[OptionalAmount, Says("Its strength.", STRENGTH)] = None
    rate_mg_per_kg: Annotated[
        OptionalAmount, Says("Rate per dose that label or veterinarian gave.", RATE)
    ] = None
    rate_ml_per_kg: Annotated[
        OptionalAmount, Says("The same as a volume, where the label says it so.", VOLUME_RATE)
    ] = None
    route: Annotated[OptionalText, Says("How it is given.", ROUTE)] = None
    interval_h: Annotated[
        OptionalAmount, Says("Hours from one dose to the next.", HOURS, strict="most")
    ] = None
    course_doses: Annotated[OptionalCount, Says("Doses in a full course.", COURSE_DOSES)] = None
    milk_h: Annotated[
        OptionalAmount, Says("Hours milk is held after the last dose.", HOURS, strict="most")
    ] = None
    meat_d: Annotated[
        OptionalAmount, Says("Days meat is held after the last dose.", DAYS, strict="most")
    ] = None
    milk_never: Annotated[
        OptionalFlag, Says("Whether milk may never be sold after it.", FLAG, strict="most")
    ] = None
    meat_never: Annotated[
        OptionalFlag, Says("Whether meat may never be sold after it.", FLAG, strict="most")
    ] = None
    counted_from: Annotated[
        OptionalText,
        Says("What withholding is counted from.", COUNTED_FROM, strict="most"),
    ] = None
    max_per_site_ml: Annotated[
        OptionalAmount, Says("Most at one injection site.", SITE_VOLUME, strict="least")
    ] = None
    rounding: Annotated[
        OptionalText, Says("Which way to round to the syringe, as the veterinarian says.", ROUNDING)
    ] = None
    extra_label: Annotated[
        OptionalFlag, Says("Whether this use is not on the label.", FLAG, strict="most")
    ] = None
    label_milk_h: Annotated[
        OptionalAmount,
        Says("For a use outside the label: the longest milk withdrawal printed on it.", HOURS),
    ] = None
    label_meat_d: Annotated[
        OptionalAmount,
        Says("For a use outside the label: the longest meat withdrawal printed on it.", DAYS),
    ] = None
    lot: Annotated[OptionalText, Says("Lot number.", NAME)] = None
    expiry: Annotated[OptionalText, Says("Last day it may be used.", DATE, strict="earliest")] = (
        None
    )
    stock_ml: Annotated[OptionalAmount, Says("How much is left.", STOCK)] = None
    said_by: SaidBy = None
    vet_address: Annotated[
        OptionalText, Says("Where the prescribing veterinarian is reached.", LONG_TEXT)
    ] = None
    note: Note = None


class Purchase(Struct):
    """Medicine that came onto the shelf."""

    product: Annotated[Id, Says("The product.", PRODUCT)]
    on: When
    amount_ml: Annotated[OptionalAmount, Says("How much.", STOCK)] = None
    lot: Annotated[OptionalText, Says("Lot number.", NAME)] = None
    expiry: Annotated[OptionalText, Says("Last day it may be used.", DATE, strict="earliest")] = (
        None
    )
    supplier: Annotated[OptionalText, Says("Who supplied it.", LONG_TEXT)] = None
    note: Note = None


class Disposal(Struct):
    """Medicine that was thrown away, spilled or handed back."""

    product: Annotated[Id, Says("The product.", PRODUCT)]
    on: When
    amount_ml: Annotated[OptionalAmount, Says("How much.", STOCK)] = None
    lot: Annotated[OptionalText, Says("Lot number.", NAME)] = None
    how: Annotated[OptionalText, Says("Where it went.", LONG_TEXT)] = None
    because: Because = None


class Course(Struct):
    """A treatment planned for an animal: how many doses of what, how far apart, and why."""

    animal: Animal
    on: When
    product: Annotated[Id, Says("The product.", PRODUCT)]
    doses: Annotated[OptionalCount, Says("How many doses in all.", COURSE_DOSES, strict="most")] = (
        None
    )
    interval_h: Annotated[
        OptionalAmount, Says("Hours from one dose to the next.", HOURS, strict="most")
    ] = None
    amount_ml: Annotated[OptionalAmount, Says("Volume of one dose.", VOLUME)] = None
    because: Annotated[OptionalText, Says("The condition it is given for.", LONG_TEXT)] = None
    stopped: Annotated[
        OptionalFlag, Says("Whether it was ended early, as the veterinarian agreed.", FLAG)
    ] = None
    said_by: SaidBy = None
    note: Note = None


class Dose(Struct):
    """One dose given to one animal."""

    animal: Animal
    on: WhenGiven
    product: Annotated[Id, Says("The product given.", PRODUCT, "given")]
    amount_ml: Annotated[OptionalAmount, Says("Volume given.", VOLUME, "given")] = None
    milk_h: MilkHold = None
    meat_d: MeatHold = None
    route: Annotated[OptionalText, Says("How it was given.", ROUTE)] = None
    site: Annotated[OptionalText, Says("Where on the body.", NAME)] = None
    course: Annotated[OptionalId, Says("The course it belongs to.", Ref("course"))] = None
    lot: Annotated[OptionalText, Says("Lot number.", NAME)] = None
    because: Annotated[OptionalText, Says("The condition it was given for.", LONG_TEXT)] = None
    extra_label: Annotated[
        OptionalFlag, Says("Whether this use is not on the label.", FLAG, strict="most")
    ] = None
    said_by: SaidBy = None
    note: Note = None


class Vaccination(Struct):
    """A vaccine given to one animal."""

    animal: Animal
    on: WhenGiven
    product: Annotated[Id, Says("The vaccine given.", PRODUCT, "given")]
    amount_ml: Annotated[OptionalAmount, Says("Volume given.", VOLUME, "given")] = None
    milk_h: MilkHold = None
    meat_d: MeatHold = None
    against: Annotated[OptionalText, Says("What it protects against.", NAME)] = None
    lot: Annotated[OptionalText, Says("Lot number.", NAME)] = None
    route: Annotated[OptionalText, Says("How it was given.", ROUTE)] = None
    site: Annotated[OptionalText, Says("Where on the body.", NAME)] = None
    said_by: SaidBy = None
    note: Note = None


_SAME_DOSE = PairRule(
    same_fields=("animal", "product"), within_hours=12, or_same_date=True, even_if_seen=True
)

KINDS = (
    kind_of(
        Product,
        "product",
        "medicine",
        critical=True,
        caution=MEDICINE,
        names=("name", "substance"),
    ),
    kind_of(Purchase, "purchase", "medicine bought"),
    kind_of(Disposal, "disposal", "medicine disposed of", caution=DISPOSAL),
    kind_of(Course, "course", "course", subject="animal", critical=True, caution=MEDICINE),
    kind_of(
        Dose,
        "dose",
        "dose",
        subject="animal",
        pair=_SAME_DOSE,
        critical=True,
        caution=MEDICINE,
    ),
    kind_of(
        Vaccination,
        "vaccination",
        "vaccination",
        subject="animal",
        pair=_SAME_DOSE,
        critical=True,
        caution=VACCINE,
    ),
)
