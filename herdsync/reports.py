"""Frozen answers of the trade: marks, medicine, worms, breeding, kids, milk, tests. Shapes only, no rules.

As in ``herdsync.answers``: more fields may be added, none renamed; ids are base32 text.
"""

from __future__ import annotations

from msgspec import Struct

from herdsync.answers import Hold


class ExposureLine(Struct, frozen=True):
    """A doe that shared a pen with a male able to sire; ``window``: the days she may kid from it.
    ``sure`` is false where a move is disputed; ``relationship`` is the numerator relationship.
    """

    doe: str
    doe_name: str
    male: str
    male_name: str
    pen: str
    since: str
    until: str
    days: int
    running: bool
    sure: bool
    relationship: float
    window: list[str]
    says: str
    records: list[str] = []


class MilkLine(Struct, frozen=True):
    """Milk of one doe over some days: produced, sold, and given while not for sale."""

    animal: str
    name: str
    first: str
    last: str
    milkings: int
    milk_kg: float
    sold_kg: float
    held_kg: float
    in_milk: bool
    days_in_milk: int | None = None
    disputed: bool = False
    kept_kg: float = 0.0
    sold_while_held_kg: float = 0.0
    advice: str = "ok"
    says: str = ""


class KidTask(Struct, frozen=True):
    """One window of a kid's first months: done on, or its state."""

    item: str
    work: str
    state: str
    opens: str
    closes: str
    done: str = ""
    reason: str = ""


class KidBoard(Struct, frozen=True):
    """One kid with all windows of its first months, gain and what bears on a buckling."""

    id: str
    name: str
    sex: str
    born: str
    age_days: int | None
    dam: str
    tasks: list[KidTask]
    weight_kg: float | None = None
    gain_g_per_day: float | None = None
    gain_says: str = ""
    decision: list[str] = []
    birth_kg: float | None = None
    adjusted_kg: float | None = None
    ready_to_wean: bool | None = None
    weaning: str = ""
    colostrum: str = ""
    alerts: list[str] = []
    caution: str = ""
    sex_now: str = ""


class HeardLine(Struct, frozen=True):
    """The newest entry of another laptop that is here: what came after it is not known here yet."""

    keeper: str
    device: str
    last_recorded: str


class MarkSuggestion(Struct, frozen=True):
    """The next mark for a year's kid on this laptop; firm only when the tattoo is recorded done."""

    year: int
    letter: str
    printed: bool
    number: int
    left: str
    right: str
    share: str
    taken: list[int]
    heard: list[HeardLine]
    says: str
    caution: str


class MarkLine(Struct, frozen=True):
    """The marks of one animal: what its sheet says, how far the tattoo is, what to look at."""

    id: str
    name: str
    born: str
    right: str
    left: str
    tail: str
    chip: str
    stage: str
    sites: list[str]
    read: str
    legibility: list[str]
    warnings: list[str]


class MarkBoard(Struct, frozen=True):
    """The suggestion for a year (None where its letter is not known) and the animals asked about."""

    suggestion: MarkSuggestion | None
    animals: list[MarkLine]


class HeldAnimal(Struct, frozen=True):
    """What an animal may not do yet, milkings to discard, first saleable one, kids it passes to."""

    id: str
    name: str
    pen: str
    holds: list[Hold]
    milkings_to_discard: int | None = None
    first_saleable: str = ""
    passed_to: list[str] = []
    caution: str = ""


class MedicineLine(Struct, frozen=True):
    """One product as the keepers wrote it down, with what is left of it. Volumes mL."""

    id: str
    name: str
    substance: str
    use: str
    family: str
    route: str
    strength_mg_per_ml: float | None
    interval_h: float | None
    course_doses: int | None
    milk_h: float | None
    meat_d: float | None
    counted_from: str
    said_by: str
    expiry: str
    expired: bool
    lots: list[str]
    stock_ml: float | None
    needed_ml: float | None
    stock_says: str
    gaps: list[str]
    warnings: list[str]


class CourseLine(Struct, frozen=True):
    """One course under way: which dose comes next, when, and until when it is in time."""

    animal: str
    name: str
    product: str
    product_name: str
    course: str
    number: int
    doses: int | None
    last: str
    due: str
    early: str
    late: str
    state: str
    records: list[str]


class MedicineBoard(Struct, frozen=True):
    """The medicines on the shelf and the courses under way."""

    products: list[MedicineLine]
    courses: list[CourseLine]
    caution: str


class WormLine(Struct, frozen=True):
    """One animal's newest eyelid score, condition and egg count, and what they lean to."""

    id: str
    name: str
    pen: str
    eyelid: int | None = None
    eyelid_on: str = ""
    action: str = ""
    because: list[str] = []
    says: str = ""
    look_again: str = ""
    condition: float | None = None
    condition_on: str = ""
    condition_says: str = ""
    eggs_per_gram: float | None = None
    eggs_on: str = ""
    eggs_say: str = ""


class TrialLine(Struct, frozen=True):
    """One egg count reduction test, by one of the published forms (``paired`` or ``two-group``)."""

    trial: str
    form: str
    product: str
    product_name: str
    family: str
    first: str
    last: str
    animals: int
    reduction_percent: float | None
    lower_percent: float | None
    upper_percent: float | None
    confidence_percent: int | None
    log_ratio_variance: float | None
    verdict: str
    reason: str
    warnings: list[str]
    caution: str
    records: list[str] = []


class FamilyLine(Struct, frozen=True):
    """What the herd's own tests say of one family of products, oldest first."""

    family: str
    products: list[str]
    verdicts: list[str]
    newest: str
    says: str


class WormBoard(Struct, frozen=True):
    """Scores and counts of the herd, its reduction tests, and the history of each family."""

    animals: list[WormLine]
    trials: list[TrialLine]
    families: list[FamilyLine]
    caution: str


class BuckLine(Struct, frozen=True):
    """One buck as a mate for a doe; figures are fractions, and mean little where little is known."""

    id: str
    name: str
    standing: str
    inbreeding: float
    relationship: float
    generations: int
    equivalent_generations: float
    ancestors: list[str]
    advice: str
    reason: str
    warnings: list[str]


class KiddingLine(Struct, frozen=True):
    """One doe that is mated or bred: when she is due, and the days that follow from it."""

    doe: str
    name: str
    pen: str
    sire: str
    served: str
    proof: str
    due: str
    window: list[str]
    days_left: int | None
    heat_return: list[str]
    check: list[str]
    booster: list[str]
    dry_off: str
    watch_from: str
    in_milk: bool
    sure: bool
    says: str
    records: list[str]


class LactationLine(Struct, frozen=True):
    """One lactation by the test interval method, up to ``end``; ``standard`` is its first 305 days."""

    animal: str
    name: str
    start: str
    end: str
    running: bool
    days: int
    tests: int
    milk_kg: float | None
    fat_kg: float | None
    protein_kg: float | None
    fat_percent: float | None
    protein_percent: float | None
    standard_days: int | None
    standard_milk_kg: float | None
    fcm4_kg: float | None
    ecm_kg: float | None
    cells_per_ml: int | None
    cell_score: float | None
    cell_scores: list[float]
    persistency_percent: float | None
    says: str
    warnings: list[str]


class MilkBoard(Struct, frozen=True):
    """Where the milk of some days went, doe by doe, and the lactations by their test days."""

    does: list[MilkLine]
    lactations: list[LactationLine]
    caution: str


class TestLine(Struct, frozen=True):
    """One animal's newest test for a disease, the next, what it is worth; if it was too young for it."""

    __test__ = False
    animal: str
    name: str
    disease: str
    on: str
    result: str
    method: str
    next_test: str
    overdue: bool
    telling_from: str
    negative_is_wrong: float | None
    positive_is_right: float | None
    says: str
    too_young: str
    record: str


class NewcomerLine(Struct, frozen=True):
    """An animal kept apart since it came, and when it is tested again."""

    animal: str
    name: str
    arrived: str
    apart_until: str
    retest_on: str
    says: str


class KeepingLine(Struct, frozen=True):
    """Papers of one sort that must still be kept: how many, until when the newest of them."""

    key: str
    what: str
    years: int
    source: str
    records: int
    until: str
    says: str


class ScreeningBoard(Struct, frozen=True):
    """Disease tests, newcomers kept apart, and what must be kept until when."""

    tests: list[TestLine]
    newcomers: list[NewcomerLine]
    keeping: list[KeepingLine]
    caution: str
