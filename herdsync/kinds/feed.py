"""Feed: what a feedstuff holds, rations put together from feedstuffs, and feeding of one animal."""

from typing import Annotated

from msgspec import Struct

from herdsync.kinds.cautions import FEED, FEEDING, RATION
from herdsync.kinds.field import Says
from herdsync.kinds.forms import Choice, Ref
from herdsync.kinds.kind import kind_of
from herdsync.kinds.lines import (
    DATE,
    GRAMS,
    LONG_TEXT,
    NAME,
    PEN,
    SHARE,
    VOLUME,
    Amount,
    Animal,
    Id,
    Note,
    OptionalAmount,
    OptionalId,
    OptionalText,
    When,
)
from herdsync.kinds.quantities import Quantity

BASIS = Choice(("as-fed", "dry"), also={"dry-matter": "dry", "dm": "dry", "fresh": "as-fed"})
TRACE = Quantity("ppm", "0", "1000000")
FED = Choice(("colostrum", "milk", "milk-replacer", "water", "grain", "hay"), open=True)


class Feed(Struct):
    """A feedstuff and what an analysis, a bag or a table says is in it."""

    name: Annotated[str, Says("What it is called.", NAME)]
    basis: Annotated[
        OptionalText, Says("Whether the shares are of the feed as fed or of its dry matter.", BASIS)
    ] = None
    dry_matter_percent: Annotated[OptionalAmount, Says("Dry matter.", SHARE)] = None
    calcium_percent: Annotated[OptionalAmount, Says("Calcium.", SHARE)] = None
    phosphorus_percent: Annotated[OptionalAmount, Says("Phosphorus.", SHARE)] = None
    copper_ppm: Annotated[OptionalAmount, Says("Copper.", TRACE)] = None
    molybdenum_ppm: Annotated[OptionalAmount, Says("Molybdenum.", TRACE)] = None
    selenium_ppm: Annotated[OptionalAmount, Says("Selenium.", TRACE)] = None
    ammonium_chloride_percent: Annotated[OptionalAmount, Says("Ammonium chloride.", SHARE)] = None
    source: Annotated[OptionalText, Says("Whose figures: own analysis, bag, table.", NAME)] = None
    analysed: Annotated[OptionalText, Says("Date of the analysis.", DATE)] = None
    note: Note = None


class Ration(Struct):
    """A daily ration; its parts are records of their own."""

    name: Annotated[str, Says("What it is called.", NAME)]
    pen: Annotated[OptionalId, Says("The pen that gets it.", PEN)] = None
    group: Annotated[OptionalText, Says("The group that gets it.", NAME)] = None
    note: Note = None


class RationPart(Struct):
    """One feedstuff of a ration, with how much an animal gets of it a day."""

    ration: Annotated[Id, Says("The ration.", Ref("ration"))]
    feed: Annotated[Id, Says("The feedstuff.", Ref("feed"), bond="portion")]
    amount_g: Annotated[Amount, Says("How much a day.", GRAMS, bond="portion")]


class Feeding(Struct):
    """What one animal was given to eat or drink: colostrum, a bottle, a drink after kidding."""

    animal: Animal
    on: When
    what: Annotated[str, Says("What it was given.", FED)]
    amount_ml: Annotated[OptionalAmount, Says("How much, if drunk.", VOLUME)] = None
    amount_g: Annotated[OptionalAmount, Says("How much, if eaten.", GRAMS)] = None
    how: Annotated[OptionalText, Says("By bottle, bucket, dam, tube.", NAME)] = None
    source: Annotated[
        OptionalText, Says("Where it came from, such as whose colostrum.", LONG_TEXT)
    ] = None
    note: Note = None


KINDS = (
    kind_of(Feed, "feed", "feedstuff", caution=FEED, names=("name",)),
    kind_of(Ration, "ration", "ration", caution=RATION, names=("name",)),
    kind_of(RationPart, "ration-part", "part of a ration", caution=RATION),
    kind_of(Feeding, "feeding", "feeding", subject="animal", caution=FEEDING),
)
