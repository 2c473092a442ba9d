"""Verbs of medicine: what is held, what is on the shelf, worms, tests of disease."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal, InvalidOperation
from fractions import Fraction

import click

from herdsync.cli.asking import Asked, verb
from herdsync.cli.columns import labelled, moment, sentence, several, table
from herdsync.cli.typed import complete_animal
from herdsync.reports import (
    CourseLine,
    HeldAnimal,
    MedicineBoard,
    MedicineLine,
    ScreeningBoard,
    TrialLine,
    WormBoard,
)
from herdsync.safe_text import safe_text


@verb("holds", known=True)
@click.argument("animal", required=False, shell_complete=complete_animal)
def holds(asked: Asked, animal: str | None) -> None:
    """List what may not be sold, bred or moved yet; with ANIMAL, of that one alone."""
    with asked.farm() as farm:
        held = farm.held(animal or "")
    asked.answer(held, told_held(held))


@verb("medicine", known=True)
def medicine(asked: Asked) -> None:
    """List medicines with stock and expiry, and courses with their next dose."""
    with asked.farm() as farm:
        board = farm.medicine()
    asked.answer(board, told_medicine(board))


@verb("eggs", known=True)
@click.argument("animal", required=False, shell_complete=complete_animal)
@click.option("--trial", default="", metavar="NAME", help="One count reduction test alone.")
def eggs(asked: Asked, animal: str | None, trial: str) -> None:
    """Tell worm scores and counts of the herd or ANIMAL, and did each wormer work.

    A trial is the egg-count records that name it: sampled=before, after, or control.
    """
    with asked.farm() as farm:
        board = farm.worms(animal or "", trial)
    asked.answer(board, told_worms(board, only_trials=bool(trial)))


@verb("screening", known=True)
@click.option(
    "--prevalence", metavar="PERCENT", help="How common the disease is, as your vet reckons."
)
def screening(asked: Asked, prevalence: str | None) -> None:
    """List disease tests with the next day, newcomers kept apart, and papers to keep."""
    percent = _percent(prevalence) if prevalence is not None else None
    with asked.farm() as farm:
        board = farm.screening(percent)
    asked.answer(board, told_screening(board))


def _percent(text: str) -> Fraction:
    try:
        number = Decimal(text.strip().rstrip("%"))
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite() or abs(number.adjusted()) > 9:
        raise click.UsageError(f"--prevalence {text!r} is no number of per cent.")
    return Fraction(number)


def told_held(held: list[HeldAnimal]) -> Iterator[str]:
    """Each animal with its holds, and what follows for the milk."""
    if not any(one.holds for one in held):
        yield "Nothing is held."
    for one in held:
        if not one.holds:
            continue
        yield safe_text(one.name) + (f", {safe_text(one.pen)}" if one.pen else "")
        for hold in one.holds:
            until = moment(hold.until) if hold.until else "nobody knows when"
            disputed = " (disputed)" if hold.disputed else ""
            yield from sentence(f"{hold.what} until {until}{disputed}", 2, 4)
            yield from sentence(hold.reason, 4)
        if one.milkings_to_discard is not None:
            yield from sentence(
                f"{several(one.milkings_to_discard, 'milking')} after the last dose to discard; "
                f"first saleable {moment(one.first_saleable)}, by the farm's chore times",
                2,
                4,
            )
        if one.passed_to:
            yield from sentence(f"passed on by her milk to {', '.join(one.passed_to)}", 2, 4)
    caution = next((one.caution for one in held if one.caution), "")
    if caution:
        yield ""
        yield from sentence(f"Caution: {caution}")


def told_medicine(board: MedicineBoard) -> Iterator[str]:
    """Running courses first, then each product."""
    if board.courses:
        yield "Courses under way"
        yield from table(("animal", "medicine", "dose", "due", "from", "state"),
                         [_course_row(one) for one in board.courses], 2)  # fmt: skip
        yield ""
    if not board.products:
        yield "No medicine is written down yet: herdsync record product substance=..."
    for line in board.products:
        yield from _told_product(line)
    yield ""
    yield from sentence(f"Caution: {board.caution}")


def _course_row(one: CourseLine) -> tuple[object, ...]:
    of = f"{one.number} of {one.doses}" if one.doses else str(one.number)
    return (one.name, one.product_name, of, moment(one.due), moment(one.early), one.state)


def _told_product(line: MedicineLine) -> Iterator[str]:
    used = f" ({line.use})" if line.use else ""
    yield from sentence(f"{line.name}{used}", 0, 2)
    if line.substance != line.name:
        yield from labelled("substance", line.substance)
    said = [f"milk {line.milk_h:g} h"] if line.milk_h is not None else []
    said += [f"meat {line.meat_d:g} d"] if line.meat_d is not None else []
    counted = (
        f", counted from the {line.counted_from.replace('-', ' ')}" if line.counted_from else ""
    )
    by = f" ({line.said_by})" if line.said_by else ""
    if said:
        yield from labelled("held after", ", ".join(said) + counted + by)
    yield from labelled("stock", line.stock_says)
    if line.lots or line.expiry:
        lots = f"lot {', '.join(line.lots)}" if line.lots else ""
        expiry = f"expiry {line.expiry}" if line.expiry else ""
        yield from labelled("bottle", ", ".join(one for one in (lots, expiry) if one))
    if line.gaps:
        yield from labelled("not told", ", ".join(line.gaps))
    for warning in line.warnings:
        yield from sentence(f"! {warning}", 2, 4)


def told_worms(board: WormBoard, *, only_trials: bool = False) -> Iterator[str]:
    """Animals, trials, and what the trials say of each family."""
    if not only_trials:
        if not board.animals:
            yield "No eyelid score, condition or egg count is written down yet."
        rows = [
            (one.name, one.eyelid, one.eyelid_on, one.action, one.look_again, one.condition,
             one.eggs_per_gram)
            for one in board.animals
        ]  # fmt: skip
        yield from table(
            ("animal", "eyelid", "on", "leans to", "look by", "condition", "eggs/g"), rows
        )
        for one in board.animals:
            for told in (one.says if one.action not in ("", "leave") else "", one.condition_says):
                yield from sentence(f"{one.name}: {told}", 2, 4) if told else ()
        yield ""
    for trial in board.trials:
        yield from _told_trial(trial)
    if not only_trials:
        for family in board.families:
            yield from sentence(family.says, 0, 2)
    yield from sentence(f"Caution: {board.caution}.")


def _told_trial(trial: TrialLine) -> Iterator[str]:
    product = f", {trial.product_name}" if trial.product_name else ""
    yield from sentence(
        f"Trial {trial.trial} ({trial.form}{product}, {several(trial.animals, 'count')})", 0, 2
    )
    yield from sentence(trial.reason, 2)
    for warning in trial.warnings:
        yield from sentence(f"! {warning}", 2, 4)
    yield from sentence(f"Caution: {trial.caution}.", 2)


def told_screening(board: ScreeningBoard) -> Iterator[str]:
    """Tests, those not negative first, then by the day of the next one; newcomers, papers."""
    if not board.tests:
        yield "No disease test is written down yet: herdsync record disease-test ..."
    rows = [
        (one.disease, one.name, one.result, one.on, one.next_test, "overdue" if one.overdue else "")
        for one in board.tests
    ]
    yield from table(("disease", "animal", "result", "on", "next test", ""), rows)
    for says in dict.fromkeys(f"{one.disease}: {one.says}" for one in board.tests):
        yield from sentence(says, 2, 4)
    for young in (one for one in board.tests if one.too_young):
        yield from sentence(f"{young.disease}: {young.too_young}", 2, 4)
    if board.newcomers:
        yield ""
        yield "Kept apart"
        for one in board.newcomers:
            yield from sentence(one.says, 2, 4)
    yield ""
    yield "Papers to keep"
    for paper in board.keeping:
        yield from sentence(f"{paper.says} ({paper.source})", 2, 4)
    yield ""
    yield from sentence(f"Caution: {board.caution}")
