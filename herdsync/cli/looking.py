"""Verbs that look at the herd: herd, show, find."""

from __future__ import annotations

from collections.abc import Iterator

import click

from herdsync.answers import ActLine, FieldAnswer, Found, HerdLine, RecordAnswer
from herdsync.cli.agreeing import accounts_table
from herdsync.cli.asking import Asked, verb
from herdsync.cli.care import told_counts, told_timers, told_work
from herdsync.cli.columns import labelled, moment, sentence, several, table
from herdsync.cli.typed import complete_animal

ACTS_SHOWN = 20
_SHORT_HOLDS = {
    "milk not for sale": "milk",
    "meat not for sale": "meat",
    "not to be bred": "breeding",
    "not to leave": "leaving",
}


@verb("herd", known=True)
@click.option("--all", "every", is_flag=True, help="Also the gone and those kept for pedigree.")
def herd(asked: Asked, every: bool) -> None:
    """List the animals."""
    with asked.looking() as farm:
        lines = farm.herd(every=every)
        counts = [] if asked.as_json else farm.heads()
    asked.answer(lines, [*told_herd(lines), *told_counts(counts)])


@verb("show", known=True)
@click.argument("ref", shell_complete=complete_animal)
def show(asked: Asked, ref: str) -> None:
    """Show one animal or record, with every account of a disputed field."""
    with asked.looking() as farm:
        record = farm.show(ref)
        kids = [farm.show(kid).title for kid in record.kids]
    asked.answer(record, told_record(record, kids))


@verb("find", known=True)
@click.argument("text")
def find(asked: Asked, text: str) -> None:
    """TEXT is a word, or a part of one, in any field of a record."""
    with asked.looking() as farm:
        found = farm.find(text)
    asked.answer(found, told_found(found))


def told_herd(lines: list[HerdLine]) -> Iterator[str]:
    """One line an animal."""
    if not lines:
        yield "No animal is written down yet: herdsync record animal name=... sex=... born=..."
        return
    rows = [
        (
            line.name + (" ?" if line.disputed else ""),
            line.sex_now,
            _age(line.age_days),
            line.pen if line.standing == "here" else line.standing,
            line.horns,
            " ".join(mark for mark in (line.tattoo_right, line.tattoo_left) if mark),
            [_SHORT_HOLDS.get(hold, hold) for hold in line.holds],
            line.due or "",
        )
        for line in lines
    ]
    yield from table(("name", "sex", "age", "pen", "horns", "tattoo", "held", "due"), rows)
    yield f"{several(len(lines), 'animal')}."


def told_record(record: RecordAnswer, kids: list[str]) -> Iterator[str]:
    """One record, whole; ``kids`` are named."""
    gone = "" if record.stands else " (retracted)"
    yield from sentence(f"{record.title}{gone}  {record.kind} {record.id}", 0, 2)
    if record.unreadable:
        yield from sentence("A newer program wrote something here that this one cannot read.", 2)
    for name, field in record.fields.items():
        yield from _told_field(name, field)
    if record.animal is not None:
        where = record.animal.pen or record.animal.standing
        yield from labelled("now", ", ".join(dict.fromkeys([*record.animal.state, where])))
    if record.holds:
        yield "Held"
        for hold in record.holds:
            until = f" until {moment(hold.until)}" if hold.until else ""
            yield from sentence(f"{hold.what}{until}: {hold.reason}", 2, 4)
    if record.due:
        yield "Due"
        for line in record.due:
            yield from told_work(line)
    if record.timers:
        yield "Running"
        yield from told_timers(record.timers, 2)
    if kids:
        yield from sentence(f"Kids: {', '.join(kids)}", 0, 6)
    yield from _told_acts(record.acts)


def _told_field(name: str, field: FieldAnswer) -> Iterator[str]:
    shown = field.shown or field.value
    if not field.disputed:
        yield from labelled(name, shown)
        return
    yield from labelled(name, f"{shown}  (disputed)")
    standing = [one for one in field.claims if one.stands]
    yield from accounts_table(standing, 4)


def _told_acts(acts: list[ActLine]) -> Iterator[str]:
    if not acts:
        return
    yield "Acts, newest first"
    rows = [
        (moment(act.on), act.title, act.shown + (" (disputed)" if act.disputed else ""),
         act.id[:8])
        for act in acts[:ACTS_SHOWN]
    ]  # fmt: skip
    yield from table(("on", "what", "", "id"), rows, 2)
    if len(acts) > ACTS_SHOWN:
        yield f"  and {len(acts) - ACTS_SHOWN} older ones; 'herdsync trail' has all."


def told_found(found: list[Found]) -> Iterator[str]:
    """One line a record."""
    if not found:
        yield "Nothing here holds that word."
    rows = [(one.id[:12], one.kind, one.title, one.matched) for one in found]
    yield from table(("id", "kind", "what", "found in"), rows)


def _age(days: int | None) -> str:
    if days is None:
        return ""
    if days < 14:
        return f"{days} d"
    if days < 26 * 7:
        return f"{days // 7} wk"
    return f"{days // 365} yr" if days >= 730 else f"{days * 12 // 365} mo"
