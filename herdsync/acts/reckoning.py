"""The door's sums: a dose's volume, a mating's kinship, a ration. They write nothing, prescribe nothing."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from datetime import date
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar

from herdsync import answers
from herdsync.acts.looking import Looking
from herdsync.faults import Refused
from herdsync.kinds import CATALOGUE
from herdsync.kinds.on import parse_on
from herdsync.kinds.quantities import amount
from herdsync.projections import moments
from herdsync.projections.breeding import match
from herdsync.projections.goat import Goat
from herdsync.trade import dosing
from herdsync.trade.advice import Advice, Finding
from herdsync.trade.feed import AS_FED, DRY, Portion, judge_ratio, ration

RATION_BYTES = 100_000
_BASES = {
    "as fed": AS_FED, "as-fed": AS_FED, "as_fed": AS_FED, "fed": AS_FED,
    "dry": DRY, "dm": DRY, "dry matter": DRY, "dry-matter": DRY, "dry_matter": DRY,
}  # fmt: skip
_FEED_KEYS = {
    "name", "amount_g", "calcium_percent", "phosphorus_percent", "basis", "amount_basis",
    "dry_matter_percent",
}  # fmt: skip

T = TypeVar("T")


class Reckoning(Looking):
    """Sums over what is recorded and what the keeper typed."""

    def dose(
        self, animal: str, rate: str, strength: str, *, step: str = "", weight: str = ""
    ) -> answers.DoseVolume:
        """The volume for one animal from typed figures. Raises Refused where a figure cannot stand."""
        rate_mg = _number(rate, "The rate in mg per kg")
        strength_mg = _number(strength, "The strength in mg per mL")
        with self._herd() as herd:
            goat = self._goat(herd, animal)
            kg, age_days, checks = self._weight(goat, weight)
        volume = _told(lambda: dosing.dose_volume(kg, rate_mg, strength_mg))
        step_ml = _number(step, "The syringe's marks in mL") if step else _step_for(volume)
        found = _told(
            lambda: dosing.work_out_dose(kg, rate_mg, strength_mg, step_ml, weight_checks=checks)
        )
        warnings = [_sentence(one.reason) for one in found.warnings] + [dosing.CAUTION]
        return answers.DoseVolume(
            weight_kg=_float(found.weight_kg, 3),
            weight_age_days=age_days,
            volume_ml=_float(found.volume_ml, 4),
            rounded_ml=_float(found.rounded_ml, 4),
            change_percent=_float(found.change_percent, 2),
            sites=found.sites.count,
            warnings=warnings,
        )

    def _weight(self, goat: Goat, told: str) -> tuple[Fraction, int | None, tuple[Finding, ...]]:
        """The weight to go by in kg, its age in days where it was recorded, and what to say of it."""
        if told:
            form = CATALOGUE["weighing"].fields["weight_kg"].form
            value = form.parse(told, _NoFarm())
            return amount(value, "kg"), None, ()
        weighed = goat.weight()
        if weighed is None:
            raise Refused(
                f"{goat.name} has no weight on record; guessing one would be unsafe.",
                "Weigh or tape it and record that, or give --weight.",
            )
        day, record = weighed
        today = goat.look.today
        checks: tuple[Finding, ...] = (_told(lambda: dosing.weight_age(day, today, goat.born)),)
        if record.disputed("weight_kg"):
            checks += (Finding(Advice.LOOK, "the weight is disputed: resolve it first"),)
        return amount(record.value("weight_kg"), "kg"), (today - day).days, checks

    def match(self, doe: str, buck: str, on: str = "") -> answers.Mating:
        """Kinship, due date and warnings of a mating. Raises Refused where it cannot be."""
        with self._herd() as herd:
            look = herd.look
            told = parse_on(on, look.moment, look.zone) if on else look.today.isoformat()
            day: date = moments.first_day(told, look.zone)
            return match(self._goat(herd, doe), self._goat(herd, buck), day)

    def ration(self, file: Path) -> answers.RationSum:
        """Calcium and phosphorus of the ration in a TOML file. Raises Refused naming what is wrong."""
        told = _toml(file)
        sex = str(told.get("for", "doe"))
        found = _told(lambda: ration([_portion(one) for one in _feeds(told)], sex))
        reason = _sentence(found.reason)
        as_male = judge_ratio(found.ratio, "buck")
        if "for" not in told and as_male.advice is not found.advice:
            reason += f" For bucks and wethers: {as_male.advice}, {as_male.reason}."
        return answers.RationSum(
            calcium_g=_float(found.calcium_g, 4),
            phosphorus_g=_float(found.phosphorus_g, 4),
            ratio=_float(found.ratio, 4),
            advice=str(found.advice),
            reason=f"{reason} {_sentence(found.caution)}",
        )


class _NoFarm:
    """A weight is read without asking anything of a farm."""

    def __getattr__(self, name: str) -> Any:
        raise AssertionError(f"reading a weight asked for {name}")


def _step_for(volume_ml: Fraction) -> Fraction:
    """The marks of the smallest syringe that holds the volume, else of the largest."""
    sizes = sorted(dosing.SYRINGE_STEP_ML)
    holding = [size for size in sizes if size >= volume_ml]
    return dosing.syringe_step(holding[0] if holding else sizes[-1])


def _number(text: str, what: str) -> Decimal:
    try:
        number = Decimal(text.strip())
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite() or abs(number.adjusted()) > 9:
        raise Refused(
            f"{what} is '{text[:40]}', which is no number.", "Write a number such as 2.5."
        )
    return number


def _toml(file: Path) -> dict[str, Any]:
    try:
        raw = file.read_bytes()
        if len(raw) > RATION_BYTES:
            raise Refused(f"{file} is too large for a ration.", "Name the ration's file.")
        return tomllib.loads(raw.decode("utf-8"), parse_float=Decimal)
    except OSError as fault:
        raise Refused(f"{file} could not be read ({fault.strerror}).", "Name the file.") from fault
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as fault:
        raise Refused(f"{file} is no TOML file ({fault}).", "Mend that line.") from fault


def _feeds(told: dict[str, Any]) -> list[dict[str, Any]]:
    feeds = told.get("feed")
    if not isinstance(feeds, list) or not all(isinstance(one, dict) for one in feeds):
        raise Refused(
            "The ration has no [[feed]].", "Write one [[feed]] with its figures for each."
        )
    return feeds


def _portion(feed: dict[str, Any]) -> Portion:
    strange = sorted(set(feed) - _FEED_KEYS)
    if strange:
        raise Refused(
            f"A feed has no '{strange[0][:40]}'.", f"Use {', '.join(sorted(_FEED_KEYS))}."
        )
    name = str(feed.get("name", "a feed"))

    def figure(key: str) -> Any:
        value = feed.get(key)
        fit = value is None or (isinstance(value, int | Decimal) and not isinstance(value, bool))
        if not fit:
            raise Refused(f"{key} of {name} is no number.", "Write a number such as 1.5.")
        return value

    if figure("amount_g") is None:
        raise Refused(f"{name} has no amount_g.", "Write how many grams a day are fed.")
    return Portion(
        name,
        figure("amount_g"),
        figure("calcium_percent"),
        figure("phosphorus_percent"),
        _basis(str(feed.get("basis", AS_FED)), name),
        _basis(str(feed["amount_basis"]), name) if "amount_basis" in feed else None,
        figure("dry_matter_percent"),
    )


def _basis(text: str, name: str) -> str:
    if text.casefold() not in _BASES:
        raise Refused(f"The basis of {name} is '{text[:40]}'.", "Write 'as fed' or 'dry'.")
    return _BASES[text.casefold()]


def _told(sum_up: Callable[[], T]) -> T:
    """The outcome of a sum of the trade; its refusals as sentences."""
    try:
        return sum_up()
    except ValueError as fault:
        raise Refused(_sentence(str(fault))) from fault


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}" + ("" if text.endswith(".") else ".")


def _float(value: Fraction, places: int) -> float:
    return float(round(value, places))
