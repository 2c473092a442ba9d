"""Verbs for the work at hand: due and timers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Any

import click
from msgspec import to_builtins

from herdsync.answers import DueLine, Timer
from herdsync.cli.asking import Asked, verb
from herdsync.cli.columns import left, moment, sentence, table
from herdsync.cli.typed import complete_animal
from herdsync.safe_text import clipped, padded, safe_text
from herdsync.sights import HeadsLine

# So much of an id is shown to be typed.
ID_SHOWN = 8


@verb("due", known=True)
@click.option("--pen", default="", metavar="PEN", help="Only animals of this pen.")
@click.option(
    "--animal", default="", shell_complete=complete_animal, metavar="A", help="Only this animal."
)
@click.option(
    "--days", type=click.IntRange(0, 4000), metavar="N", help="Also what comes in N days."
)
@click.option("--all", "every", is_flag=True, help="Everything, however far ahead, and missed.")
def due(asked: Asked, pen: str, animal: str, days: int | None, every: bool) -> None:
    """List due work in the order of a walk, and counted heads that do not agree.

    With --json each of those stands last as a piece of work on its pen, of kind counted-heads: its
    field 'heads' holds what was counted and what is on record; in every other piece it is null.
    """
    with asked.looking() as farm, farm.one_look():
        lines = farm.due(pen=pen, animal=animal, days=days, every=every)
        counts = [] if animal else farm.heads(pen=pen)
    told = [*told_due(lines), *told_counts(counts)]
    asked.answer(_pieces(lines, counts) if asked.as_json else [], told)


@verb("timers", known=True)
def timers(asked: Asked) -> None:
    """The next to end first; what is over already says for how long."""
    with asked.looking() as farm:
        lines = farm.timers()
    asked.answer(lines, told_timers(lines))


def _pieces(lines: list[DueLine], counts: list[HeadsLine]) -> list[dict[str, Any]]:
    """Due work as one JSON list: each piece with the heads it is about, null but for a count."""
    found = [(line, None) for line in lines] + [(_recount(one), one) for one in counts]
    return [to_builtins(line) | {"heads": to_builtins(heads)} for line, heads in found]


def _recount(line: HeadsLine) -> DueLine:
    """A count that does not agree, as work on its pen; its id is the count's."""
    return DueLine(
        id=line.id, animal="", name=line.pen, pen=line.pen, item="", work=line.work,
        kind="counted-heads", state="due", opens=line.on, best=line.on, closes="", due=line.on,
        reason=line.says, preset={"pen": line.pen},
    )  # fmt: skip


def told_due(lines: list[DueLine]) -> Iterator[str]:
    """Due work by pen; each piece with its state, days, reason and, once a pen, caution and law."""
    if not lines:
        yield "Nothing is due."
    pen: str | None = None
    said: dict[str, str] = {}
    for line in lines:
        if line.pen != pen:
            if pen is not None:
                yield ""
            pen = line.pen
            said.clear()
            yield safe_text(pen) if pen else "No pen"
        yield from told_work(line, said)
        for one in (line.caution, line.law):
            said.setdefault(one, line.name or line.pen)


def told_counts(counts: list[HeadsLine]) -> Iterator[str]:
    """Heads somebody counted that do not agree with the records."""
    for one in counts:
        yield from sentence(f"! {one.says}.", 0, 2)


def told_work(line: DueLine, said: Mapping[str, str] = MappingProxyType({})) -> list[str]:
    """One piece of work: state, animal, work and day, then why, then what to beware of.

    ``said``: cautions and law that stand in full a few lines before, with the name they stand at.
    """
    state = padded(safe_text(line.state), 8)
    name = padded(clipped(safe_text(line.name), 14), 14)
    closing = line.state == "closing" and line.closes
    day = f"closes {moment(line.closes)}" if closing else moment(line.due) if line.due else ""
    work = clipped(safe_text(line.work or line.item), 80 - 28 - len(day) - 2)
    first = padded(f"  {state}  {name}  {work}", 80 - len(day) - 1) + day
    # Its id, for those who would skip it or put it off.
    why = [f"{line.reason} [{line.id[:ID_SHOWN]}]".lstrip(), *line.blocks]
    rows = [row for one in why for row in sentence(one, 12)]
    if line.caution:
        above = said.get(line.caution)
        told = f"as above, at {above}." if above is not None else line.caution
        rows += sentence(f"Caution: {told}", 12)
    if line.law and line.law not in said:
        rows += sentence(f"Law: {line.law}", 12)
    return [first.rstrip(), *rows]


def told_timers(lines: list[Timer], indent: int = 0) -> Iterator[str]:
    """Running clocks, the soonest first as the farm gives them."""
    if not lines:
        yield "No clock is running."
    rows = [
        (line.name, line.what, moment(line.ends), left(line.left_s),
         "check date" if line.doubtful else "")
        for line in lines
    ]  # fmt: skip
    yield from table(("animal", "what", "ends", "left", ""), rows, indent)
