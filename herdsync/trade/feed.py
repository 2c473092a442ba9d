"""Ration sums: calcium and phosphorus, their ratio with advice, and the limestone that mends it.

Knows feeds by name and figure only, the farm's own analyses first. Must not know animals beyond
their sex, nor prescribe: a straining male is an emergency and not a feed note.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from herdsync.trade.advice import Advice, Finding
from herdsync.trade.bounds import percent, within
from herdsync.trade.units import Amount, plain, positive

AS_FED = "as fed"
DRY = "dry"
BASES = (AS_FED, DRY)

# Langston University, Urinary Tract Disease: calcium to phosphorus 2.0-2.5 to 1.
TARGET_LOWEST_RATIO = Fraction(2)
# Cut-offs of the advice: common practice, no published source.
STOP_BELOW_RATIO = Fraction(1)
LOOK_BELOW_RATIO = Fraction(3, 2)
# Males and wethers form stones and are held to the published target: common practice.
MALE_LOOK_BELOW_RATIO = TARGET_LOWEST_RATIO
# Direction (calcium stones in all-legume rations) from the Langston text; cut-off common practice.
LOOK_ABOVE_RATIO = Fraction(6)

# Feed-grade ground limestone, per cent calcium and phosphorus: from memory (34 to 38 calcium).
LIMESTONE_CALCIUM_PERCENT = 38
LIMESTONE_PHOSPHORUS_PERCENT = Fraction(2, 100)

FEED_CAUTION = (
    "straining, crying or a dry sheath in a male is an emergency for the veterinarian, whatever "
    "the ration says; mineral contents may vary by 30 % from any table (Colorado State fact sheet "
    "1.615), so use the farm's own analysis first"
)


class Portion(NamedTuple):
    """One feed of a ration.

    ``amount_g`` is grams a day on ``amount_basis``; the per cents are on ``basis``. ``basis`` is
    ``as fed`` or ``dry``; ``amount_basis`` left out is the same. Where the two differ,
    ``dry_matter_percent`` is needed to go from one to the other.
    """

    name: str
    amount_g: Amount
    calcium_percent: Amount | None
    phosphorus_percent: Amount | None
    basis: str = AS_FED
    amount_basis: str | None = None
    dry_matter_percent: Amount | None = None


class RationAnswer(NamedTuple):
    """Daily grams of both minerals, their ratio, and what it means for this sex.

    ``amount_g`` is the whole ration on ``basis``.
    """

    amount_g: Fraction
    basis: str
    calcium_g: Fraction
    phosphorus_g: Fraction
    ratio: Fraction
    advice: Advice
    reason: str
    caution: str


class LimestoneAnswer(NamedTuple):
    """Grams of a calcium supplement a day that bring the ration to the target ratio."""

    limestone_g: Fraction
    reason: str


def ration(portions: Sequence[Portion], sex: str) -> RationAnswer:
    """Sum a ration; ratio = calcium / phosphorus.

    ``sex`` is doe, buck, wether, or anything else, which is judged as a male to be safe. Amounts
    may not mix bases unless the dry matter is given. Raises ValueError for an empty ration, a
    missing or impossible figure, mixed bases, or no phosphorus at all.
    """
    if not portions:
        raise ValueError("the ration is empty; give at least one feed with its grams")
    basis = _shared_basis(portions)
    amounts = [_amount_on(portion, basis) for portion in portions]
    calcium = sum((_mineral_g(p, p.calcium_percent, "calcium") for p in portions), Fraction(0))
    phosphorus = sum(
        (_mineral_g(p, p.phosphorus_percent, "phosphorus") for p in portions), Fraction(0)
    )
    if not phosphorus:
        raise ValueError("the ration holds no phosphorus, so no ratio can be formed; check figures")
    ratio = calcium / phosphorus
    finding = judge_ratio(ratio, sex)
    return RationAnswer(
        sum(amounts, Fraction(0)),
        basis,
        calcium,
        phosphorus,
        ratio,
        finding.advice,
        f"calcium {plain(calcium)} g, phosphorus {plain(phosphorus)} g ({basis}): {finding.reason}",
        FEED_CAUTION,
    )


def judge_ratio(ratio: Amount, sex: str) -> Finding:
    """Say what a calcium to phosphorus ratio means; all but does are held to 2 : 1.

    Raises ValueError for a negative ratio.
    """
    value = within(ratio, "the calcium to phosphorus ratio", 0)
    text = f"calcium to phosphorus {plain(value)} : 1"
    least = LOOK_BELOW_RATIO if sex == "doe" else MALE_LOOK_BELOW_RATIO
    whom = f"a {sex}" if sex in ("doe", "buck", "wether") else "a goat judged as a male"
    if value < STOP_BELOW_RATIO:
        return Finding(Advice.STOP, f"{text} holds less calcium than phosphorus")
    if value < least:
        return Finding(Advice.LOOK, f"{text} is under {plain(least)} : 1 for {whom}")
    if value > LOOK_ABOVE_RATIO:
        return Finding(Advice.LOOK, f"{text}: calcium stones in all-legume rations")
    return Finding(Advice.OK, f"{text} is enough for {whom}; the target is 2 to 2.5 : 1")


def limestone(
    calcium_g: Amount,
    phosphorus_g: Amount,
    target_ratio: Amount = TARGET_LOWEST_RATIO,
    *,
    calcium_percent: Amount = LIMESTONE_CALCIUM_PERCENT,
    phosphorus_percent: Amount = LIMESTONE_PHOSPHORUS_PERCENT,
) -> LimestoneAnswer:
    """Grams of limestone so that (Ca + caL L) / (P + pL L) reaches the target.

    L = (T P - Ca) / (caL - T pL); none where the ratio is there already. Raises ValueError where
    the supplement itself is no richer than the target.
    """
    calcium = within(calcium_g, "the calcium in g", 0)
    phosphorus = positive(phosphorus_g, "the phosphorus in g")
    target = positive(target_ratio, "the target ratio")
    lift = percent(calcium_percent, "the supplement's calcium in %") / 100
    lift -= target * percent(phosphorus_percent, "the supplement's phosphorus in %") / 100
    wanted = target * phosphorus - calcium
    if wanted <= 0:
        now = plain(calcium / phosphorus)
        return LimestoneAnswer(Fraction(0), f"{now} : 1 reaches {plain(target)} : 1 without any")
    if lift <= 0:
        raise ValueError(
            f"this supplement is no richer than {plain(target)} : 1 itself and cannot lift the "
            "ration there; take one with more calcium"
        )
    grams = wanted / lift
    return LimestoneAnswer(
        grams, f"{plain(grams)} g a day bring {plain(calcium / phosphorus)} to {plain(target)} : 1"
    )


def _shared_basis(portions: Sequence[Portion]) -> str:
    """The basis of all amounts; where they differ, as fed, which needs the dry matter."""
    bases = {_amount_basis(portion) for portion in portions}
    return bases.pop() if len(bases) == 1 else AS_FED


def _amount_basis(portion: Portion) -> str:
    for basis in (portion.basis, portion.amount_basis or portion.basis):
        if basis not in BASES:
            raise ValueError(
                f"the basis of {portion.name} is {basis!r}; it must be 'as fed' or 'dry'"
            )
    return portion.amount_basis or portion.basis


def _amount_on(portion: Portion, basis: str) -> Fraction:
    """The grams of a portion on a basis, turned by its dry matter where it is on the other."""
    grams = within(portion.amount_g, f"the grams of {portion.name}", 0)
    if _amount_basis(portion) == basis:
        return grams
    if portion.dry_matter_percent is None:
        raise ValueError(
            f"{portion.name} mixes as-fed and dry figures; give its dry matter in %, or all "
            "figures of the ration on one basis"
        )
    dry = percent(portion.dry_matter_percent, f"the dry matter of {portion.name} in %") / 100
    if not dry:
        raise ValueError(f"{portion.name} holds no dry matter; correct its dry matter in %")
    return grams * dry if basis == DRY else grams / dry


def _mineral_g(portion: Portion, mineral_percent: Amount | None, mineral: str) -> Fraction:
    if mineral_percent is None:
        raise ValueError(f"the {mineral} of {portion.name} is not known; take it from an analysis")
    value = percent(mineral_percent, f"the {mineral} of {portion.name} in %")
    return _amount_on(portion, portion.basis) * value / 100


def mixed_mg_per_kg(shares: Sequence[tuple[Amount, Amount]]) -> Fraction:
    """The mg/kg of a whole ration from (grams, mg/kg) of each feed, all on one basis.

    Raises ValueError for negative figures or a ration of no weight.
    """
    feeds = [
        (within(grams, "the grams of a feed", 0), within(content, "the mg/kg of a feed", 0))
        for grams, content in shares
    ]
    total = sum((grams for grams, _ in feeds), Fraction(0))
    if not total:
        raise ValueError("the ration weighs nothing; give the grams of each feed")
    return sum((grams * content for grams, content in feeds), Fraction(0)) / total
