"""Milk figures: corrected milk, cell score, persistency, and milk sold against milk held.

Corrected yields come from cows and serve to compare does with each other. A cell count is no
diagnosis: goat counts rise late in lactation and with age. Milk held for a withdrawal still counts
as produced. Must not know when a hold ends.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from herdsync.trade.advice import Advice, Finding
from herdsync.trade.bounds import within
from herdsync.trade.dates import days_since
from herdsync.trade.units import Amount, exact, plain, positive, rounded, whole

# Gaines formula, as printed with its example of 80 lb at 3.5 %.
FCM4_PER_MILK = Decimal("0.4")
FCM4_PER_FAT = Decimal(15)
# Energy-corrected milk, formula entry beside that of Gaines.
ECM_PER_MILK = Decimal("0.327")
ECM_PER_FAT = Decimal("12.95")
ECM_PER_PROTEIN = Decimal("7.2")

# Legal limit for goat milk: Vermont Statutes 6 s. 2728 (manufacturing grade); US Grade A the same
# from memory; older texts say 1,000,000. A setting: the farm's own law counts.
CELLS_HIGHEST_PER_ML = 1_500_000
# More than a counter reads: a guard against slips of the keys, from memory.
CELLS_COUNTED_MOST = 100_000_000
_SCORE_PLACES = 4

# Colostrum, days 0 to 3, is left out of sale and not of the lactation: common practice, no published
# source.
COLOSTRUM_LAST_DAY = 3

# More at one milking, or from one so young, is most likely a slip: from memory.
MILKING_MOST_KG = 8
DAY_MOST_KG = 16
# Outside of these fat or protein is most likely a slip of the decimal point: from memory.
SOLIDS_PERCENT = (Decimal("1.5"), Decimal(10))
MILKED_FROM_DAYS = 150

# Persistency is given as the share kept per 30 days: common practice, no published source.
PERSISTENCY_DAYS = 30


class Persistency(NamedTuple):
    """How well a doe keeps up her milk after her peak, in per cent kept per 30 days."""

    peak_on: date
    peak_kg: Fraction
    kept_percent: Fraction
    reason: str


class Milking(NamedTuple):
    """One milking: its milk, whether it was sold, and whether the doe's milk was on hold then."""

    milk_kg: Amount
    sold: bool
    held: bool


class MilkAccount(NamedTuple):
    """Where the milk went, in kg: produced = sold + held + kept at home + sold while on hold."""

    produced_kg: Fraction
    sold_kg: Fraction
    held_kg: Fraction
    kept_kg: Fraction
    sold_while_held_kg: Fraction
    advice: Advice
    reason: str


def first_milk(kidded: date, milked: date) -> Finding:
    """Say whether milk is of the days of colostrum (day 0 is the kidding): given, but not for sale.

    Raises ValueError for milk from before the kidding.
    """
    days = days_since(kidded, milked, "the kidding")
    if days <= COLOSTRUM_LAST_DAY:
        return Finding(
            Advice.STOP,
            f"milk of day {days} after kidding is colostrum still, and not for sale to day "
            f"{COLOSTRUM_LAST_DAY}",
        )
    return Finding(Advice.OK, f"day {days} after kidding: past the days of colostrum")


def milking_plausible(milk_kg: Amount, age_days: int | None) -> Finding:
    """Say whether the milk of one milking, and the age of who gave it, can well be right.

    Raises ValueError for a negative amount.
    """
    kg = within(milk_kg, "the milk in kg", 0)
    if kg > MILKING_MOST_KG:
        return Finding(
            Advice.LOOK,
            f"{plain(kg)} kg at one milking is over {MILKING_MOST_KG}: look at the figure",
        )
    if age_days is not None and age_days < MILKED_FROM_DAYS:
        return Finding(
            Advice.LOOK, f"milked at {age_days} days of age: look whether another gave it"
        )
    return Finding(Advice.OK, f"{plain(kg)} kg at one milking can be")


def day_plausible(
    milk_kg: Amount | None, fat_percent: Amount | None, protein_percent: Amount | None
) -> Finding:
    """Say whether the figures of a test day can well be right; what was not told is left out."""
    odd = []
    if milk_kg is not None and exact(milk_kg, "the milk in kg") > DAY_MOST_KG:
        odd.append(f"{plain(milk_kg)} kg in a day is over {DAY_MOST_KG}")
    least, most = SOLIDS_PERCENT
    for what, share in (("fat", fat_percent), ("protein", protein_percent)):
        if share is not None and not least <= exact(share, f"the {what} in %") <= most:
            odd.append(f"{plain(share)} % {what} is outside {plain(least)} to {plain(most)} %")
    if odd:
        return Finding(Advice.LOOK, f"{', '.join(odd)}: look at the figures")
    return Finding(Advice.OK, "the figures of the test day can be")


def fat_corrected_milk_kg(milk_kg: Amount, fat_kg: Amount) -> Fraction:
    """Milk corrected to 4 % fat: 0.4 M + 15 F. Raises ValueError where fat exceeds milk."""
    milk, fat = _milk_and_part(milk_kg, fat_kg, "fat")
    return Fraction(FCM4_PER_MILK) * milk + Fraction(FCM4_PER_FAT) * fat


def energy_corrected_milk_kg(milk_kg: Amount, fat_kg: Amount, protein_kg: Amount) -> Fraction:
    """Milk corrected for energy: 0.327 M + 12.95 F + 7.2 P. Raises ValueError as for fat."""
    milk, fat = _milk_and_part(milk_kg, fat_kg, "fat")
    _, protein = _milk_and_part(milk_kg, protein_kg, "protein")
    return (
        Fraction(ECM_PER_MILK) * milk
        + Fraction(ECM_PER_FAT) * fat
        + Fraction(ECM_PER_PROTEIN) * protein
    )


def cell_score(cells_per_ml: int) -> Decimal:
    """log2(cells / 100,000) + 3, to four decimals (formula from memory): a doubling is one point.

    Raises ValueError for less than one cell per mL or more than any counter reads.
    """
    cells = whole(cells_per_ml, "the cells per mL", 1, CELLS_COUNTED_MOST)
    return rounded(Fraction(math.log2(cells) - math.log2(100_000) + 3), _SCORE_PLACES)


def judge_cells(cells_per_ml: int, highest_per_ml: int = CELLS_HIGHEST_PER_ML) -> Finding:
    """Say whether a cell count keeps to the limit for sale; never a diagnosis.

    Raises ValueError for an impossible count or limit.
    """
    cells = whole(cells_per_ml, "the cells per mL", 0, CELLS_COUNTED_MOST)
    limit = whole(highest_per_ml, "the limit of cells per mL", 1, CELLS_COUNTED_MOST)
    if cells > limit:
        return Finding(
            Advice.LOOK,
            f"{cells} cells per mL are over the limit of {limit}; look at the udder and at this "
            "doe's own trend: goats count high late in lactation",
        )
    return Finding(Advice.OK, f"{cells} cells per mL keep to the limit of {limit}")


def persistency(tests: Sequence[tuple[date, Amount]]) -> Persistency:
    """What a doe keeps of her peak milk per 30 days, from (day, kg of 24 h) in any order.

    100 - 100 x (peak - last) / peak x 30 / days between. The last of equal peaks counts. Raises
    ValueError without a test after the peak, for two on one day, or a peak without milk.
    """
    by_day = dict(tests)
    if len(by_day) < len(tests):
        raise ValueError("two tests stand on one day; keep one")
    kg = {on: within(milk, f"the milk of {on} in kg", 0) for on, milk in by_day.items()}
    peak_on = max(kg, key=lambda on: (kg[on], on), default=None)
    if peak_on is None or peak_on == max(kg):
        raise ValueError("there is no test after the peak yet; persistency needs one")
    last_on = max(kg)
    peak = positive(kg[peak_on], "the milk at the peak in kg")
    lost = (peak - kg[last_on]) / peak
    kept = 100 - 100 * lost * Fraction(PERSISTENCY_DAYS, (last_on - peak_on).days)
    return Persistency(
        peak_on,
        peak,
        kept,
        f"from {plain(peak)} kg on {peak_on} to {plain(kg[last_on])} kg on {last_on}: "
        f"{plain(kept, 1)} % kept per {PERSISTENCY_DAYS} days",
    )


def milk_account(milkings: Iterable[Milking]) -> MilkAccount:
    """Add up where the milk went; milk sold while on hold is a stop, and counted apart.

    Raises ValueError for a negative amount.
    """
    sums = {(sold, held): Fraction(0) for sold in (True, False) for held in (True, False)}
    for milking in milkings:
        sums[milking.sold, milking.held] += within(milking.milk_kg, "the milk in kg", 0)
    wrong = sums[True, True]
    produced = sum(sums.values(), Fraction(0))
    reason = (
        f"{plain(produced)} kg produced: {plain(sums[True, False])} sold, "
        f"{plain(sums[False, True])} held, {plain(sums[False, False])} kept"
    )
    if wrong:
        reason += f"; {plain(wrong)} kg were sold while not for sale: tell the buyer at once"
    return MilkAccount(
        produced,
        sums[True, False],
        sums[False, True],
        sums[False, False],
        wrong,
        Advice.STOP if wrong else Advice.OK,
        reason,
    )


def _milk_and_part(milk_kg: Amount, part_kg: Amount, what: str) -> tuple[Fraction, Fraction]:
    milk = within(milk_kg, "the milk in kg", 0)
    return milk, within(part_kg, f"the {what} in kg (of {plain(milk)} kg milk)", 0, milk)
