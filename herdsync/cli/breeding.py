"""Verbs of breeding: bucks for a doe, who kids when, exposures, kids, and marks."""

from __future__ import annotations

from collections.abc import Iterator

import click

from herdsync.cli.asking import Asked, verb
from herdsync.cli.columns import labelled, moment, sentence, several, table
from herdsync.cli.typed import complete_animal
from herdsync.reports import (
    BuckLine,
    ExposureLine,
    KidBoard,
    KiddingLine,
    MarkBoard,
    MarkLine,
    MarkSuggestion,
)
from herdsync.safe_text import safe_text


@verb("bucks", known=True)
@click.argument("doe", shell_complete=complete_animal)
@click.option("--on", default="", metavar="DATE", help="The day of mating; today where left out.")
def bucks(asked: Asked, doe: str, on: str) -> None:
    """Rank all bucks on record for DOE, the least inbred kids first."""
    with asked.farm() as farm:
        lines = farm.bucks(doe, on)
    asked.answer(lines, told_bucks(lines))


@verb("kidding", known=True)
def kidding(asked: Asked) -> None:
    """List the does that are mated or bred, the next to kid first; then who met a buck besides."""
    with asked.farm() as farm, farm.one_look():
        lines = farm.kidding()
        met = [] if asked.as_json else farm.exposures()
    asked.answer(lines, [*told_kidding(lines), *told_unmated(lines, met)])


@verb("exposures", known=True)
def exposures(asked: Asked) -> None:
    """List does that shared a pen with a male able to sire."""
    with asked.farm() as farm:
        lines = farm.exposures()
    asked.answer(lines, told_exposures(lines))


@verb("kids", known=True)
def kids(asked: Asked) -> None:
    """Show a board for each kid: its windows, growth, and a buckling's decision."""
    with asked.farm() as farm:
        boards = farm.kids()
    asked.answer(boards, told_kids(boards))


@verb("mark", known=True)
@click.argument("animal", required=False, shell_complete=complete_animal)
@click.option("--year", type=int, metavar="YEAR", help="Kids of that year; this one, left out.")
def mark(asked: Asked, animal: str | None, year: int | None) -> None:
    """Suggest the next tattoo of a year, and check the marks of the herd or of ANIMAL."""
    with asked.farm() as farm:
        board = farm.marks(animal or "", year)
    asked.answer(board, told_marks(board, whole=bool(animal)))


def told_bucks(lines: list[BuckLine]) -> Iterator[str]:
    """A ranked table, then what speaks for looking again at each."""
    if not lines:
        yield "No buck is on record that is not gone or castrated."
        return
    rows = [
        (one.name, one.standing, f"{100 * one.inbreeding:.2f} %", one.generations, one.advice,
         ", ".join(one.ancestors))
        for one in lines
    ]  # fmt: skip
    yield from table(("buck", "stands", "inbred", "known", "advice", "through"), rows)
    for one in lines:
        for warning in one.warnings:
            yield from sentence(f"{one.name}: {warning}.", 2, 4)
    yield ""
    yield from sentence(
        "inbred: expected of the kids, from the pedigree on record; known: generations without a "
        "gap. A wrong sire makes every figure meaningless."
    )


def told_kidding(lines: list[KiddingLine]) -> Iterator[str]:
    """Each doe, when she is due, and the days before it."""
    if not lines:
        yield "No doe is mated or bred by the records."
    for line in lines:
        due = line.due or "day not known"
        left = "" if line.days_left is None else f", {line.days_left} d"
        disputed = " (disputed)" if not line.sure else ""
        yield from sentence(f"{line.name}: due {due}{left}{disputed}, {line.proof}", 0, 2)
        if line.sire:
            yield from labelled("sire", line.sire)
        for label, days in (
            ("kids between", line.window),
            ("back in heat", line.heat_return),
            ("test her", line.check),
            ("booster", line.booster),
        ):
            if days:
                yield from labelled(label, " to ".join(days))
        if line.dry_off and line.in_milk:
            yield from labelled("dry off", line.dry_off)
        if line.watch_from:
            yield from labelled("watch from", line.watch_from)
        yield from sentence(line.says, 2, 4)
    if lines:
        yield ""
        yield from sentence("A day is an estimate; only a test says a doe is bred.")


def told_unmated(lines: list[KiddingLine], met: list[ExposureLine]) -> Iterator[str]:
    """Does that shared a pen with a buck and could kid on days that no mating on record tells."""
    windows = {line.doe: line.window for line in lines}
    for one in met:
        told, (first, last) = windows.get(one.doe), one.window
        if not told or last < told[0] or first > told[1]:
            yield from sentence(
                f"! {one.doe_name} could kid {first} to {last}, and no mating of those days is on record: "
                f"{one.says}. Write it (how=pen), or have her tested.", 0, 2,
            )  # fmt: skip


def told_exposures(lines: list[ExposureLine]) -> Iterator[str]:
    """Each exposure in a sentence, with the days on which a kidding could follow."""
    if not lines:
        yield "No doe shared a pen with a male able to sire, by the moves on record."
    for line in lines:
        running = ", still together" if line.running else ""
        yield from sentence(f"{line.says}{running}.", 0, 2)
        yield from sentence(f"she could kid {' to '.join(line.window)}", 4)


def told_kids(boards: list[KidBoard]) -> Iterator[str]:
    """Each kid: growth, alerts, windows, decision."""
    if not boards:
        yield "No kid is on record."
        return
    for place, kid in enumerate(boards):
        if place:
            yield ""
        age = "" if kid.age_days is None else f", {several(kid.age_days, 'day')} old"
        dam = f", of {kid.dam}" if kid.dam else ""
        yield from sentence(f"{kid.name}: {kid.sex_now}{age}{dam}", 0, 2)
        yield from _told_growth(kid)
        rows = [
            (one.work, one.state, moment(one.done or one.opens), moment(one.closes))
            for one in kid.tasks
        ]
        yield from table(("work", "state", "from", "to"), rows, 2)
        if kid.decision:
            yield "  Castrate, keep entire, or move him:"
            for told in kid.decision:
                yield from sentence(told, 4, 6)
    yield ""
    yield from sentence(f"Caution: {boards[0].caution}")


def _told_growth(kid: KidBoard) -> Iterator[str]:
    if kid.weight_kg is not None:
        birth = f", {kid.birth_kg:g} kg at birth" if kid.birth_kg is not None else ""
        at_90 = f", {kid.adjusted_kg:.1f} kg at 90 days" if kid.adjusted_kg is not None else ""
        yield from labelled("weight", f"{kid.weight_kg:g} kg{birth}{at_90}")
    for label, told in (
        ("gain", kid.gain_says), ("weaning", kid.weaning), ("colostrum", kid.colostrum),
    ):  # fmt: skip
        if told:
            yield from labelled(label, told)
    for alert in kid.alerts:
        yield from sentence(f"! {alert}", 2, 4)


def told_marks(board: MarkBoard, *, whole: bool) -> Iterator[str]:
    """The suggestion, then the marks."""
    if board.suggestion is None:
        yield from sentence(
            "No letter is known for that year: set letters-announced once the registry gives it out."
        )
    else:
        yield from _told_suggestion(board.suggestion)
    yield ""
    if whole:
        for line in board.animals:
            yield from _told_mark(line)
    else:
        rows = [
            (one.name, one.born[:10], one.right, one.left, one.tail, one.stage, moment(one.read))
            for one in board.animals
        ]
        yield from table(("animal", "born", "right", "left", "tail", "tattoo", "read again"), rows)
        for line in board.animals:
            for warning in line.warnings:
                yield from sentence(f"! {warning}", 2, 4)


def _told_suggestion(one: MarkSuggestion) -> Iterator[str]:
    right = f", right ear {safe_text(one.right)}" if one.right else ""
    yield from sentence(f"Next for kids of {one.year}: left ear {one.left}{right}", 0, 2)
    yield from sentence(one.says, 2)
    if one.taken:
        yield from labelled("written so far", ", ".join(str(number) for number in one.taken))
    yield from labelled("numbers here", one.share)
    yield from sentence(f"Caution: {one.caution}", 2)


def _told_mark(line: MarkLine) -> Iterator[str]:
    yield from sentence(line.name)
    for label, told in (
        ("born", moment(line.born)), ("right", line.right), ("left", line.left), ("tail web", line.tail),
        ("chip", line.chip), ("tattoo", line.stage), ("read again", line.read),
        ("legible", ", ".join(line.legibility)), ("marks go in", ", ".join(line.sites)),
    ):  # fmt: skip
        if told:
            yield from labelled(label, told)
    for warning in line.warnings:
        yield from sentence(f"! {warning}", 2, 4)
