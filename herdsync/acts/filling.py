"""What a record gets where the keeper left it out: a dose's withdrawal, a taped animal's weight.

What is filled in becomes the record's own claim and is said, so that a later change of a product
alters no dose silently.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from herdsync.faults import Refused
from herdsync.kinds import Value
from herdsync.kinds.forms import Reading
from herdsync.kinds.kind import Kind
from herdsync.kinds.medicine import MEDICINES
from herdsync.kinds.quantities import amount
from herdsync.merge.records import Record, Records
from herdsync.projections.amounts import longest_told
from herdsync.trade.girth import TapeWeight, girth_alone, girth_and_length_cm
from herdsync.trade.units import cm_to_in, plain

_HOLDS = (("milk_h", "h", "milk"), ("meat_d", "d", "meat"))


def taped(
    kind: Kind, pairs: Mapping[str, str], reading: Reading, records: Records
) -> tuple[dict[str, str], list[str]]:
    """What was typed, a weighing's weight worked out from its tape where none was weighed.

    The second are sentences on what was filled in. Raises Refused where the tape allows no weight.
    """
    told = dict(pairs)
    if kind.name != "weighing" or "weight_kg" in told or "girth_cm" not in told:
        return told, []
    girth = _typed(kind, "girth_cm", told, reading)
    length = _typed(kind, "length_cm", told, reading) if "length_cm" in told else None
    animal = records.get(reading.find("animal", told["animal"])) if "animal" in told else None
    try:
        estimate = _estimate(girth, length, animal)
    except ValueError as fault:
        raise Refused(
            f"No weight follows from this tape: {fault}.", "Weigh, and give weight_kg."
        ) from fault
    told["weight_kg"] = f"{plain(estimate.weight_kg)} kg"
    told.setdefault("how", "girth-tape" if length is None else "girth-and-length")
    return told, [f"{plain(estimate.weight_kg)} kg was written down, {estimate.reason}."]


def filled(
    kind: Kind, fields: Mapping[str, Value], records: Records
) -> tuple[dict[str, Value], list[str]]:
    """The fields of a dose with the withdrawal its product has, where it was left out.

    Of several figures told of the product the longest is taken. The second says what was filled.
    """
    whole = dict(fields)
    product_id = whole.get("product")
    if kind.name not in MEDICINES or not isinstance(product_id, bytes):
        return whole, []
    product = records.get(product_id)
    said = []
    for field, unit, what in _HOLDS:
        longest = longest_told(product, field, unit)
        if field not in whole and longest is not None:
            whole[field] = longest
            said.append(f"{what} {plain(amount(longest, unit))} {unit}")
    if "extra_label" in kind.fields and "extra_label" not in whole and _outside(product):
        whole["extra_label"] = True
        said.append("outside the label")
    words = f"Taken over from the product into this record: {', '.join(said)}."
    return whole, [words] if said else []


def _outside(product: Record | None) -> bool:
    return product is not None and bool(product.value("extra_label"))


def _typed(kind: Kind, field: str, told: Mapping[str, str], reading: Reading) -> Fraction:
    return amount(kind.fields[field].form.parse(told[field], reading), "cm")


def _estimate(girth_cm: Fraction, length_cm: Fraction | None, animal: Record | None) -> TapeWeight:
    if length_cm is not None:
        return girth_and_length_cm(girth_cm, length_cm)
    miniature = animal is not None and animal.value("size") == "miniature"
    return girth_alone(cm_to_in(girth_cm), "miniature" if miniature else "standard")
