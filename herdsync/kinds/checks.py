"""Looking: rechecks of a procedure, and what is scored, measured or sampled."""

from typing import Annotated

from msgspec import Struct

from herdsync.kinds.cautions import DISEASE_TEST, EYELID, FEVER, ILLNESS
from herdsync.kinds.field import Says
from herdsync.kinds.forms import Choice, Count, Ref
from herdsync.kinds.kind import kind_of
from herdsync.kinds.lines import (
    FLAG,
    LONG_TEXT,
    NAME,
    PRODUCT,
    SHARE,
    WHEN,
    Amount,
    Animal,
    Note,
    OptionalAmount,
    OptionalCount,
    OptionalFlag,
    OptionalId,
    OptionalText,
    When,
)
from herdsync.kinds.procedures import PROCEDURE
from herdsync.kinds.quantities import Quantity

ILL = Choice(
    ("lame", "scours", "cough", "off-feed", "bloat", "mastitis", "wound", "straining", "down"),
    open=True,
)
FOOT_OF = Choice(("front-left", "front-right", "hind-left", "hind-right"))
SEVERITY = Choice(("slight", "plain", "severe"), open=True)
LIGHT = Choice(("daylight", "lamp", "poor"), open=True)
DISEASE_RESULT = Choice(("negative", "pending", "doubtful", "positive"))
SAMPLE = Choice(("blood", "milk", "faeces", "swab", "pus"), open=True, also={"feces": "faeces"})
SAMPLED = Choice(("routine", "before", "after", "control"), open=True)


class Check(Struct):
    """An animal looked at again after a procedure, or for any other reason."""

    animal: Animal
    on: When
    of: Annotated[
        bytes | str | None,
        Says("The procedure it follows: that record, or its kind such as disbudding.", PROCEDURE),
    ] = None
    what: Annotated[OptionalText, Says("What was looked at.", NAME)] = None
    finding: Annotated[OptionalText, Says("What was found.", LONG_TEXT)] = None
    again: Annotated[
        OptionalFlag, Says("Whether it must be looked at again soon.", FLAG, strict="most")
    ] = None
    note: Note = None


class Illness(Struct):
    """An animal seen lame, sick or hurt."""

    animal: Animal
    on: When
    what: Annotated[str, Says("What was seen.", ILL)]
    foot: Annotated[OptionalText, Says("Which foot, if lame.", FOOT_OF)] = None
    severity: Annotated[OptionalText, Says("How bad it is.", SEVERITY, strict="most")] = None
    vet_called: Annotated[OptionalFlag, Says("Whether the veterinarian was called.", FLAG)] = None
    over: Annotated[OptionalText, Says("When it was over.", WHEN)] = None
    note: Note = None


class EyelidScore(Struct):
    """The eyelid anaemia score, 1 (red) to 5 (white)."""

    animal: Animal
    on: When
    score: Annotated[int, Says("The score, 1 to 5.", Count(1, 5), strict="most")]
    pcv_percent: Annotated[
        OptionalAmount, Says("Packed cell volume, where a laboratory measured it.", SHARE)
    ] = None
    light: Annotated[OptionalText, Says("In what light.", LIGHT)] = None
    scorer: Annotated[OptionalText, Says("Who scored.", NAME)] = None
    card_year: Annotated[
        OptionalCount, Says("The year printed on the card used.", Count(1990, 2200))
    ] = None
    note: Note = None


class ConditionScore(Struct):
    """Body condition by hand, 1 (very thin) to 5 (very fat), in half steps."""

    animal: Animal
    on: When
    score: Annotated[Amount, Says("The score, 1 to 5.", Quantity("pt", "1", "5"))]
    scorer: Annotated[OptionalText, Says("Who scored.", NAME)] = None
    note: Note = None


class Temperature(Struct):
    """Body temperature, with pulse and breathing where counted."""

    animal: Animal
    on: When
    temperature_c: Annotated[Amount, Says("Body temperature.", Quantity("C", "20", "45"))]
    pulse_per_min: Annotated[OptionalCount, Says("Heart beats a minute.", Count(0, 400))] = None
    breaths_per_min: Annotated[OptionalCount, Says("Breaths a minute.", Count(0, 400))] = None
    rumen_per_min: Annotated[OptionalCount, Says("Rumen turns a minute.", Count(0, 20))] = None
    note: Note = None


class EggCount(Struct):
    """Worm eggs counted in dung, from the figures of the counting chamber."""

    animal: Animal
    on: When
    eggs: Annotated[int, Says("Eggs seen under the grid.", Count(0, 1_000_000))]
    sample_g: Annotated[OptionalAmount, Says("Dung taken.", Quantity("g", "0.01", "1000"))] = None
    total_ml: Annotated[
        OptionalAmount, Says("Dung and fluid together.", Quantity("mL", "0.1", "10000"))
    ] = None
    fluid_ml: Annotated[
        OptionalAmount,
        Says("Fluid put to the dung, if that is what you know.", Quantity("mL", "0.1", "10000")),
    ] = None
    counted_ml: Annotated[
        OptionalAmount, Says("Fluid under all grids counted.", Quantity("mL", "0.01", "100"))
    ] = None
    factor: Annotated[
        OptionalCount, Says("Eggs per gram for one egg seen, if known.", Count(1, 10_000))
    ] = None
    sampled: Annotated[
        OptionalText, Says("Routine, before or after a treatment, or control.", SAMPLED)
    ] = None
    treatment: Annotated[OptionalId, Says("The dose it is to judge.", Ref("dose"))] = None
    product: Annotated[OptionalId, Says("The product it is to judge.", PRODUCT)] = None
    trial: Annotated[
        OptionalText, Says("Name of the count reduction test it is part of.", NAME)
    ] = None
    laboratory: Annotated[OptionalText, Says("Who counted.", NAME)] = None
    note: Note = None


class DiseaseTest(Struct):
    """A test for a disease and its result, which speaks for one date only."""

    animal: Animal
    on: When
    disease: Annotated[str, Says("What was tested for.", NAME)]
    result: Annotated[
        OptionalText,
        Says("Negative, pending, doubtful or positive.", DISEASE_RESULT, strict="most"),
    ] = None
    sample: Annotated[OptionalText, Says("What was sampled.", SAMPLE)] = None
    method: Annotated[OptionalText, Says("The method of the test.", NAME)] = None
    sensitivity_percent: Annotated[
        OptionalAmount, Says("Share of carriers the test finds, as its maker says.", SHARE)
    ] = None
    specificity_percent: Annotated[
        OptionalAmount, Says("Share of free animals it calls free, as its maker says.", SHARE)
    ] = None
    laboratory: Annotated[OptionalText, Says("Which laboratory.", NAME)] = None
    reference: Annotated[OptionalText, Says("The laboratory's number of the report.", NAME)] = None
    note: Note = None


KINDS = (
    kind_of(Check, "check", "check", subject="animal"),
    kind_of(Illness, "illness", "illness", subject="animal", caution=ILLNESS),
    kind_of(EyelidScore, "eyelid-score", "eyelid anaemia score", subject="animal", caution=EYELID),
    kind_of(ConditionScore, "condition-score", "condition score", subject="animal"),
    kind_of(Temperature, "temperature", "temperature", subject="animal", caution=FEVER),
    kind_of(EggCount, "egg-count", "egg count", subject="animal"),
    kind_of(
        DiseaseTest,
        "disease-test",
        "disease test",
        subject="animal",
        caution=DISEASE_TEST,
        critical=True,
    ),
)
