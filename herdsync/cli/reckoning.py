"""Verbs that work a figure out and write nothing: dose, match, ration."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from herdsync.answers import DoseVolume, Mating, RationSum
from herdsync.cli.asking import Asked, verb
from herdsync.cli.columns import labelled, sentence, several
from herdsync.cli.typed import complete_animal


@verb("dose", known=True)
@click.option(
    "--animal", required=True, shell_complete=complete_animal, metavar="A", help="The animal."
)
@click.option("--rate", default="", metavar="MG_PER_KG", help="As label or veterinarian wrote.")
@click.option("--strength", default="", metavar="MG_PER_ML", help="As the label says.")
@click.option("--product", default="", metavar="P", help="Take both off this product's sheet.")
@click.option("--step", default="", metavar="ML", help="The marks of the syringe.")
@click.option("--weight", default="", metavar="KG", help="Instead of the newest weight recorded.")
@click.option("--ceiling", default="", metavar="MG_PER_KG", help="The most the prescriber allows.")
@click.option("--sites", default="", metavar="N", help="Places at least, as the prescriber wants.")
def dose(asked: Asked, animal: str, rate: str, strength: str, product: str, **more: str) -> None:
    """Work out a volume; a check of your own sum, never a prescription."""
    with asked.farm() as farm:
        volume = farm.dose(animal, rate, strength, product=product, **more)
    asked.answer(volume, told_dose(volume))


@verb("match", known=True)
@click.argument("doe", shell_complete=complete_animal)
@click.argument("buck", shell_complete=complete_animal)
@click.option("--on", default="", metavar="DATE", help="The day of mating; today where left out.")
def match(asked: Asked, doe: str, buck: str, on: str) -> None:
    """Tell kinship and due date of a mating of DOE and BUCK."""
    with asked.farm() as farm:
        mating = farm.match(doe, buck, on)
    asked.answer(mating, told_mating(mating))


@verb("ration", known=True)
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--ration", "name", default="", metavar="NAME", help="A ration on record instead.")
@click.option("--for", "sex", default="", metavar="SEX", help="doe, buck or wether, with --ration.")
@click.option("--sheep", is_flag=True, help="Sheep eat of it too, with --ration.")
def ration(asked: Asked, file: Path | None, name: str, sex: str, sheep: bool) -> None:
    """Sum a ration: FILE is TOML with [[feed]] name, amount_g and percents.

    A feed without percents is looked up: the farm's own analysis first. More keys a feed may have:
    basis, amount_basis, dry_matter_percent, copper_ppm, molybdenum_ppm, selenium_ppm (added),
    ammonium_chloride_percent; of the whole: for, sheep, target_ratio.
    """
    if (file is None) == (not name):
        raise click.UsageError("Give a FILE or a ration on record with --ration, one of the two.")
    if file is not None and (sex or sheep):
        raise click.UsageError("Write for and sheep in the FILE; the options go with --ration.")
    with asked.farm() as farm:
        total = farm.recorded_ration(name, sex, sheep=sheep) if file is None else farm.ration(file)
    asked.answer(total, told_ration(total))


def told_dose(volume: DoseVolume) -> Iterator[str]:
    """The volume, what it rests on, and every warning."""
    age = "" if volume.weight_age_days is None else f", {volume.weight_age_days} d old"
    yield from labelled("weight", f"{volume.weight_kg:g} kg{age}")
    yield from labelled("volume", f"{volume.volume_ml:g} mL")
    change = f" ({volume.change_percent:+.1f} %)" if volume.change_percent else ""
    yield from labelled("on the syringe", f"{volume.rounded_ml:g} mL{change}")
    each = f", {volume.each_ml:g} mL each" if volume.sites > 1 else ""
    yield from labelled("sites", f"{volume.sites}{each}")
    if volume.said_by:
        yield from labelled("by the word of", volume.said_by)
    for warning in volume.warnings:
        yield from sentence(warning, 2, 4)


def told_mating(mating: Mating) -> Iterator[str]:
    """Kinship and days."""
    yield from labelled("inbreeding", f"{mating.inbreeding:.4f} of the kids")
    known = f"{mating.relationship:.4f}, {several(mating.generations, 'generation')} known"
    yield from labelled("relationship", known)
    yield from labelled("due", f"{mating.due} ({' to '.join(mating.window)})")
    for warning in mating.warnings:
        yield from sentence(warning, 2, 4)


def told_ration(total: RationSum) -> Iterator[str]:
    """The sums and what they mean."""
    yield from labelled("calcium", f"{total.calcium_g:g} g")
    yield from labelled("phosphorus", f"{total.phosphorus_g:g} g")
    yield from labelled("ratio", f"{total.ratio:.2f} to 1")
    yield from sentence(f"{total.advice}: {total.reason}" if total.reason else total.advice, 2, 4)
    for told in total.further:
        yield from sentence(told, 2, 4)
    if total.caution:
        yield from sentence(f"Caution: {total.caution}", 2, 4)
