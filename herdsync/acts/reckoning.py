"""The door's sums: a dose's volume, a mating's kinship, a ration. They write nothing, prescribe nothing."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar

from herdsync import answers
from herdsync.acts import rations
from herdsync.acts.scripts import Script, script_of
from herdsync.acts.seeing import Seeing
from herdsync.faults import Refused
from herdsync.kinds import CATALOGUE
from herdsync.kinds.on import parse_on
from herdsync.kinds.quantities import amount
from herdsync.projections import moments
from herdsync.projections.breeding import match
from herdsync.projections.dose_checks import weight_findings
from herdsync.projections.goat import Goat
from herdsync.projections.rations import ration_sum, recorded_ration
from herdsync.trade import dosing
from herdsync.trade.advice import Advice, Finding

T = TypeVar("T")


class Reckoning(Seeing):
    """Sums over what is recorded and what the keeper typed."""

    def dose(
        self, animal: str, rate: str = "", strength: str = "", *, step: str = "", weight: str = "",
        product: str = "", ceiling: str = "", sites: str = "",
    ) -> answers.DoseVolume:  # fmt: skip
        """The volume for one animal from typed figures, or those on a product's sheet.

        ``ceiling`` (mg per kg) and ``sites`` (places at least) are the prescriber's. Raises Refused
        where a figure cannot stand.
        """
        typed_rate = _number(rate, "The rate in mg per kg") if rate else None
        typed_strength = _number(strength, "The strength in mg per mL") if strength else None
        with self._herd() as herd:
            goat = self._goat(herd, animal)
            kg, age_days, checks = self._weight(goat, weight)
            if product:
                record = self._record(product, "product")
                name = herd.look.names.of(record)
                script = script_of(record, name, typed_rate, typed_strength)
            elif typed_rate is None or typed_strength is None:
                raise Refused(
                    "A volume needs a rate and a strength.",
                    "Give --rate and --strength as the label says, or --product.",
                )
            else:
                script = Script(typed_rate, typed_strength)
        return _told(lambda: _volume(script, kg, age_days, checks, step, ceiling, sites))

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
        weighings = [one for one in goat.done("weighing") if one[1].value("weight_kg")]
        checks = _told(lambda: tuple(weight_findings(goat, weighings, today)))
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
        """Sums and advice for the ration in a TOML file. Raises Refused naming what is wrong.

        A feed without figures is looked up: the farm's own analysis first, then the table of feeds.
        """
        told = rations.toml(file)
        with self._herd() as herd:
            feeds = _told(lambda: rations.feeds_of(told, herd.records))
            return _told(lambda: rations.summed(told, feeds))

    def recorded_ration(
        self, name: str, sex: str = "", *, sheep: bool = False
    ) -> answers.RationSum:
        """The same for a ration on record. Raises Refused where it has no parts or lacks figures."""
        with self._herd() as herd:
            record = self._record(name, "ration")
            feeds = recorded_ration(herd.records, record)
            return _told(lambda: ration_sum(feeds, sex, sheep=sheep))


def _volume(
    script: Script, kg: Fraction, age_days: int | None, checks: tuple[Finding, ...], step: str,
    ceiling: str, sites: str,
) -> answers.DoseVolume:  # fmt: skip
    """The figures of a script for a weight. Raises ValueError where one cannot stand."""
    exact_ml = dosing.dose_volume(kg, script.rate, script.strength)
    step_ml = _number(step, "The syringe's marks in mL") if step else _step_for(exact_ml)
    found = dosing.work_out_dose(
        kg, script.rate, script.strength, step_ml,
        rounding=script.rounding, route=script.route, label_site_ml=script.site_ml,
        weight_checks=checks,
    )  # fmt: skip
    places = dosing.split_sites(
        found.rounded_ml, script.route, script.site_ml,
        int(_number(sites, "The number of places")) if sites else 1,
    )  # fmt: skip
    warnings = [_sentence(one.reason) for one in found.warnings]
    if ceiling and not script.by_volume:
        most = _number(ceiling, "The ceiling in mg per kg")
        within = dosing.within_ceiling(found.rounded_ml, kg, most, script.strength)
        warnings += [_sentence(within.reason)] if within.advice is not Advice.OK else []
    elif ceiling:
        warnings.append("The rate is told in mL per kg, so a ceiling in mg cannot be checked.")
    if script.disputed:
        warnings.append("The product's sheet is disputed: resolve it before anything is drawn up.")
    return answers.DoseVolume(
        weight_kg=_float(found.weight_kg, 3),
        weight_age_days=age_days,
        volume_ml=_float(found.volume_ml, 4),
        rounded_ml=_float(found.rounded_ml, 4),
        change_percent=_float(found.change_percent, 2),
        sites=places.count,
        warnings=[*warnings, dosing.CAUTION],
        each_ml=_float(places.each_ml, 4),
        said_by=script.said_by,
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
