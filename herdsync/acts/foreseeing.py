"""What a choice in a conflict would change: tried on the farm itself, then taken back whole.

The trial is one transaction that is never committed, so what is foretold is what would be.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from herdsync.acts import composing
from herdsync.acts.acting import Acting
from herdsync.answers import DueLine, Hold
from herdsync.merge.conflicts import PAIR, RULE, Conflict
from herdsync.merge.payloads import DIFFERENT, SAME
from herdsync.merge.shelf import Shelf
from herdsync.projections.due import Rounds
from herdsync.projections.due_lines import until_words
from herdsync.projections.farm_items import plan_in_force
from herdsync.projections.herd import Herd
from herdsync.projections.moments import moment_words
from herdsync.projections.settings import settings_of

SHOWN_MOST = 12


class _TakenBack(Exception):
    """Ends a trial; everything it wrote is undone with its transaction."""


@dataclass(frozen=True, slots=True)
class _Account:
    """What some animals need and may not do, by name."""

    due: dict[str, DueLine]
    holds: dict[tuple[str, str], Hold]


class Foreseeing(Acting):
    """Trials of choices."""

    def consequences(self, conflict: str, *, take: str = "", same: bool = False) -> list[str]:
        """What taking an account (or saying same, of a pair) would change in due work and holds.

        Sentences, at most twelve; empty where nothing changes or the rule is only let stand. Raises
        Refused as `resolve` would.
        """
        told: list[str] = []
        try:
            with self._writing() as (writing, typed):
                found = self._open_conflict(writing, conflict)
                if found.kind == RULE:
                    return []
                animals = _animals(writing.shelf, found)
                before = self._account(writing.shelf, animals)
                if found.kind == PAIR:
                    a, b = (writing.shelf.get(one) for one in found.records)
                    assert a is not None and b is not None, "a conflict's records are here"
                    act = composing.tie(SAME if same else DIFFERENT, a, b, None)
                else:
                    act = self._resolution(writing, found, typed, take, None, False, "a trial")
                writing.append(act)
                writing.view.fold_in(writing.entries)
                told = list(_changes(before, self._account(writing.shelf, animals)))
                raise _TakenBack
        except _TakenBack:
            return told[:SHOWN_MOST]

    def _account(self, shelf: Shelf, animals: list[bytes]) -> _Account:
        herd = Herd(shelf, settings_of(shelf), self._wall.now())
        rounds = Rounds(herd, plan_in_force(shelf, herd.look.settings).plan)
        goats = [goat for one in animals if (goat := herd.goat(one)) is not None]
        due = {line.id: line for goat in goats for line in rounds.of_goat(goat)}
        holds = {(goat.name, hold.what): hold for goat in goats for hold in rounds.holds_of(goat)}
        return _Account(due, holds)


def _animals(shelf: Shelf, conflict: Conflict) -> list[bytes]:
    """The animals a conflict's records are about or are."""
    found: dict[bytes, None] = {}
    for id in conflict.records:
        record = shelf.get(id)
        if record is None:
            continue
        if record.kind == "animal":
            found[record.id] = None
        for field in ("animal", "doe", "about"):
            found.update(dict.fromkeys(v for v in record.values(field) if isinstance(v, bytes)))
    return list(found)


def _changes(before: _Account, after: _Account) -> Iterator[str]:
    for key, hold in after.holds.items():
        earlier = before.holds.get(key)
        if earlier is None:
            yield f"{key[0]}: {hold.what} until {until_words(hold)}."
        elif earlier.until != hold.until:
            was = moment_words(earlier.until) or "without an end"
            yield f"{key[0]}: {hold.what} until {until_words(hold)}, not {was}."
    for key, hold in before.holds.items():
        if key not in after.holds:
            yield f"{key[0]}: {hold.what} would end."
    yield from _work_changed(before.due, after.due)


def _work_changed(before: Mapping[str, DueLine], after: Mapping[str, DueLine]) -> Iterator[str]:
    """Work that would come, move or go. Work asked for by another record, but as before, is the same."""
    new = [line for id, line in after.items() if id not in before]
    gone: dict[tuple[str, str], list[DueLine]] = {}
    for id, line in before.items():
        if id not in after:
            gone.setdefault((line.subject, line.item), []).append(line)
    pairs = [(before[id], line) for id, line in after.items() if id in before]
    for line in new:
        was_there = gone.get((line.subject, line.item))
        if was_there:
            pairs.append((was_there.pop(0), line))
        else:
            due = moment_words(line.due) or "now"
            yield f"{line.name}: '{line.work}' would be {line.state}, due {due}."
    for was, line in pairs:
        if (was.state, was.due) != (line.state, line.due):
            yield (
                f"{line.name}: '{line.work}' would be {line.state}, due {moment_words(line.due)}, "
                f"not {was.state}, due {moment_words(was.due)}."
            )
    for line in (one for lines in gone.values() for one in lines):
        yield f"{line.name}: '{line.work}' would no longer be asked for."
