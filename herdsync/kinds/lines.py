"""Lines that many sheets share: who it is about, when it was, what else was seen.

Also the plain Python types the declarations name; a field that may be left out is ``None``.
"""

from __future__ import annotations

from typing import Annotated, TypeAlias

from herdsync.kinds.field import Says
from herdsync.kinds.forms import Count, Date, Flag, On, Ref, Text
from herdsync.kinds.quantities import Quantity
from herdsync.kinds.texts import NOTE_LIMIT

Id: TypeAlias = bytes
Amount: TypeAlias = list[int | str]
OptionalId: TypeAlias = bytes | None
OptionalText: TypeAlias = str | None
OptionalCount: TypeAlias = int | None
OptionalFlag: TypeAlias = bool | None
OptionalAmount: TypeAlias = Amount | None
OptionalTexts: TypeAlias = list[str] | None

LONG_TEXT = Text(NOTE_LIMIT, lines=True)
NAME = Text()
WHEN = On()
DATE = Date()
FLAG = Flag()
ANIMAL = Ref("animal")
PEN = Ref("pen")
PRODUCT = Ref("product")
ANY_RECORD = Ref()
HEADS = Count(0, 1000)

WEIGHT = Quantity("kg", "0.01", "1000")
MILK_WEIGHT = Quantity("kg", "0", "100")
GRAMS = Quantity("g", "0", "1000000")
VOLUME = Quantity("mL", "0.001", "10000")
HOURS = Quantity("h", "0", "20000")
DAYS = Quantity("d", "0", "2000")
SMALL_LENGTH = Quantity("mm", "0", "1000")
BODY_LENGTH = Quantity("cm", "1", "300")
SHARE = Quantity("%", "0", "100")

Animal = Annotated[Id, Says("The animal it is about.", ANIMAL)]
Doe = Annotated[Id, Says("The doe it is about.", ANIMAL)]
When = Annotated[
    str, Says("When it was done or seen; left out, it is now.", WHEN, default_now=True)
]
Note = Annotated[OptionalText, Says("Anything else worth keeping.", LONG_TEXT)]
Because = Annotated[OptionalText, Says("Why it was done.", LONG_TEXT)]
SaidBy = Annotated[OptionalText, Says("Who said so: the label, or the veterinarian by name.", NAME)]
