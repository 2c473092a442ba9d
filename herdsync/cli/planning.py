"""The verb plan: what the care plan asks for, what a change of it would bring, and taking another."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

import click

from herdsync.answers import PlanLine
from herdsync.cli.asking import Asked, verb
from herdsync.cli.columns import moment, padded_list, sentence, several, table
from herdsync.cli.typed import pairs_of
from herdsync.cli.writing import BECAUSE, tell_recorded

if TYPE_CHECKING:
    from herdsync.answers import PlanChange


@verb("plan", known=True)
@click.option(
    "--preview", "item", metavar="WHAT", default="",
    help="What would change under another shipped plan, or with item WHAT changed as told.",
)  # fmt: skip
@click.argument("pairs", nargs=-1, metavar="[FIELD=VALUE]...")
@click.option(
    "--days", type=click.IntRange(0, 4000), metavar="N", help="With --preview: also N days ahead."
)
@click.option("--accept", default="", metavar="PLAN", help="Let this shipped plan count.")
@BECAUSE
def plan(
    asked: Asked, item: str, pairs: Sequence[str], days: int | None, accept: str, because: str
) -> None:
    """List the items of the care plan.

    With --preview nothing is written: 'plan --preview wet-pasture-1', or the fields of a plan item as
    'record plan-item' takes them: 'plan --preview hoof-trim every_days=42'.
    """
    if pairs and not item:
        raise click.UsageError("Fields go with --preview ITEM; to write them: record plan-item.")
    if accept:
        with asked.farm() as farm:
            tell_recorded(asked, farm.accept_plan(accept, because), "setting")
    elif item:
        with asked.farm() as farm:
            changes = farm.preview_plan(item, pairs_of(pairs), days)
        asked.answer(changes, told_changes(changes))
    else:
        _list(asked)


def _list(asked: Asked) -> None:
    with asked.farm() as farm:
        lines, faults, plans = farm.plan(), farm.plan_faults(), farm.plans()
        told = {line.key: line.value for line in farm.settings()}["plan"]
    for fault in faults:
        for line in sentence(fault):
            click.echo(line, err=True)
    asked.answer(lines, [*told_plan(lines), "", *_other_plans(plans, told)])


def told_plan(lines: list[PlanLine]) -> Iterator[str]:
    """Every item: the work and when; its caution, law and source beneath."""
    for place, line in enumerate(lines):
        if place:
            yield ""
        gone = " (not used here)" if line.retired else ""
        yield from sentence(f"{line.id}: {line.work}{gone}", 0, 2)
        yield from sentence(line.when, 2)
        for word, told in (("Caution", line.caution), ("Law", line.law), ("Source", line.source)):
            if told:
                yield from sentence(f"{word}: {told}", 2, 4)
    yield ""
    yield f"{several(len(lines), 'item')}."


def _other_plans(plans: Mapping[str, str], counts: str) -> Iterator[str]:
    yield from sentence(f"The plan that counts here: {counts}. In this program:")
    yield from padded_list(list(plans.items()))
    yield from sentence(
        "Look first: herdsync plan --preview PLAN. Then: herdsync plan --accept PLAN"
    )


def told_changes(changes: Sequence[PlanChange]) -> Iterator[str]:
    """What would come, move and go, with the day and state of each before and after."""
    if not changes:
        yield "Nothing that is open now would change."
        return
    rows = [
        (one.what, one.name, one.work, _at(one.state_before, one.due_before),
         _at(one.state_after, one.due_after))
        for one in changes
    ]  # fmt: skip
    yield from table(("", "animal or pen", "work", "now", "then"), rows)
    counts = {
        what: sum(1 for one in changes if one.what == what) for what in ("new", "moved", "gone")
    }
    told = ", ".join(f"{count} {what}" for what, count in counts.items() if count)
    yield ""
    yield from sentence(f"{told}. Nothing was written.")


def _at(state: str, due: str) -> str:
    return f"{state} {moment(due)}".strip()
