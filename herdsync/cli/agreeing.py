"""Verbs for what does not agree: conflicts, resolve, same, different."""

from __future__ import annotations

from collections.abc import Iterator

import click

from herdsync.answers import ClaimLine, ConflictLine
from herdsync.cli.asking import Asked, verb
from herdsync.cli.columns import moment, sentence, several, table
from herdsync.cli.writing import BECAUSE, tell_written

SHORT = 12
SAID_BESIDE = 30


@verb("conflicts", known=True)
@click.option("--all", "every", is_flag=True, help="Resolved ones too.")
def conflicts(asked: Asked, every: bool) -> None:
    """List disagreements with every account."""
    with asked.looking() as farm:
        lines = farm.conflicts(every=every)
    asked.answer(lines, told_conflicts(lines))


@verb("resolve")
@click.argument("conflict")
@click.option("--take", default="", metavar="ACCOUNT", help="The account that is right.")
@click.option("--value", metavar="VALUE", help="What is right where no account is.")
@click.option("--accept", is_flag=True, help="Let a broken rule stand.")
@BECAUSE
def resolve(
    asked: Asked, conflict: str, take: str, value: str | None, accept: bool, because: str
) -> None:
    """Give one of --take, --value and --accept.

    CONFLICT and ACCOUNT are ids as 'herdsync conflicts' lists them, or their beginnings.
    """
    if sum((bool(take), value is not None, accept)) != 1:
        raise click.UsageError("Say one of --take ACCOUNT, --value VALUE or --accept.")
    with asked.acting() as farm:
        written = farm.resolve(conflict, take=take, value=value, accept=accept, because=because)
    tell_written(asked, written, "Resolved")


@verb("same")
@click.argument("a")
@click.argument("b")
@BECAUSE
def same(asked: Asked, a: str, b: str, because: str) -> None:
    """Both ids mean the one record from then on, and where their fields differ is a conflict.

    'herdsync different A B' parts them again.
    """
    with asked.acting() as farm:
        written = farm.same(a, b, because)
    tell_written(asked, written, "Said to be one")


@verb("different")
@click.argument("a")
@click.argument("b")
@BECAUSE
def different(asked: Asked, a: str, b: str, because: str) -> None:
    """They are kept apart, and it is not asked again whether they are the same."""
    with asked.acting() as farm:
        written = farm.different(a, b, because)
    tell_written(asked, written, "Said to be two")


def told_conflicts(lines: list[ConflictLine]) -> Iterator[str]:
    """Each disagreement with its accounts and the words that resolve it."""
    if not lines:
        yield "Nothing written here disagrees."
    for place, line in enumerate(lines):
        if place:
            yield ""
        state = "" if line.open else ", resolved"
        field = line.field if line.field != line.kind else ""
        what = " ".join(part for part in (line.name, line.record_kind, field) if part)
        yield from sentence(f"{line.id[:SHORT]}  {what} ({line.kind}{state})", 0, 14)
        if line.says:
            yield from sentence(line.says, 2)
        yield from _accounts(line.claims)
        if line.open:
            yield from (f"  {how}" for how in _mending(line))


def _accounts(claims: list[ClaimLine]) -> list[str]:
    """The accounts side by side; where they are long, one under the other so that none is cut."""
    if all(len(_said(one)) <= SAID_BESIDE for one in claims):
        return accounts_table(claims, 2)
    lines = []
    for one in claims:
        by = f"{one.id[:8]}  {who(one.by, one.keeper)} on {one.device}, {moment(one.recorded)}"
        lines += [*sentence(by, 2, 4), *sentence(_said(one), 4)]
    return lines


def accounts_table(claims: list[ClaimLine], indent: int) -> list[str]:
    """What each account says, by whom, on which laptop, and when."""
    rows = [
        (one.id[:8], _said(one), who(one.by, one.keeper), one.device, moment(one.recorded))
        for one in claims
    ]
    return table(("account", "says", "by", "laptop", "written"), rows, indent)


def _said(claim: ClaimLine) -> str:
    return claim.shown or str(claim.value)


def _mending(line: ConflictLine) -> list[str]:
    id = line.id[:SHORT]
    if line.kind == "pair" and len(line.records) == 2:
        a, b = (one[:SHORT] for one in line.records)
        return [f"herdsync same {a} {b}", f"herdsync different {a} {b}"]
    if line.kind == "rule":
        mend = sentence(line.mend, 0) if line.mend else []
        return [*mend, f"herdsync resolve {id} --accept --because ..."]
    return [f"herdsync resolve {id} --take {one.id[:8]}" for one in line.claims]


def who(by: str, keeper: str) -> str:
    """The person at the keyboard; the laptop's keeper beside, where that is another."""
    return by if by == keeper or not keeper else f"{by} (for {keeper})"


def several_conflicts(count: int) -> str:
    """``no conflicts``, ``1 conflict``, ``2 conflicts``."""
    return several(count, "conflict") if count else "no conflicts"
