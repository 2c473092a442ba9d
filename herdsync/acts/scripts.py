"""What a volume is worked out from: rate, strength, rounding and sites, typed or off a product's sheet.

Every figure is the keeper's, copied from label or prescription; nothing is prescribed here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from herdsync.faults import Refused
from herdsync.merge.records import Record
from herdsync.projections.amounts import told
from herdsync.trade.dosing import Rounding, Route
from herdsync.trade.units import Amount

_ROUTES: Mapping[str, Route] = {
    "in-muscle": "muscle",
    "under-skin": "skin",
    "by-mouth": "mouth",
}
_ROUNDINGS: Mapping[str, Rounding] = {"nearest": "nearest", "down": "down", "up": "up"}


@dataclass(frozen=True)
class Script:
    """The figures of one dose by weight. ``by_volume``: the rate is mL per kg and the strength 1."""

    rate: Amount
    strength: Amount
    by_volume: bool = False
    rounding: Rounding = "nearest"
    route: Route = "skin"
    site_ml: Fraction | None = None
    said_by: str = ""
    disputed: bool = False


def script_of(product: Record, name: str, rate: Amount | None, strength: Amount | None) -> Script:
    """The figures on a product's sheet; a typed rate or strength comes before them.

    Raises Refused where the sheet tells too little.
    """
    by_volume = told(product, "rate_ml_per_kg", "mL/kg")
    volumetric = by_volume is not None and rate is None and strength is None
    rate = rate if rate is not None else told(product, "rate_mg_per_kg", "mg/kg")
    strength = strength if strength is not None else told(product, "strength_mg_per_ml", "mg/mL")
    if by_volume is not None and volumetric:
        rate, strength = by_volume, 1
    if rate is None or strength is None:
        lacking = "rate_mg_per_kg" if rate is None else "strength_mg_per_ml"
        raise Refused(
            f"The sheet of {name} does not tell {lacking}.",
            "Amend it from the label or the veterinarian's instruction, or give --rate and --strength.",
        )
    return Script(
        rate,
        strength,
        volumetric,
        _ROUNDINGS.get(str(product.value("rounding")), "nearest"),
        _ROUTES.get(str(product.value("route")), "other" if product.value("route") else "skin"),
        told(product, "max_per_site_ml", "mL"),
        str(product.value("said_by") or ""),
        product.any_disputed,
    )
