"""What a tattoo says of its animal's sheet: marks read off the animal follow from its tattoo.

A mark that is done, or read again clearly, becomes an account of the sheet in the same batch. It
stands beside what the sheet said and replaces nothing: where the two differ that is a conflict.
When the tattoo is told anew or taken back, the account it gave goes with it, and no other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from msgspec import Struct

from herdsync.acts import composing
from herdsync.kinds import CATALOGUE, Value
from herdsync.log.trust import HELPER
from herdsync.log.writer import Act
from herdsync.merge.payloads import STANDS
from herdsync.merge.pedigree import folded
from herdsync.merge.records import Claim, Record, Records, Register
from herdsync.store.view import View

TATTOO = "tattoo"
EARS = ("right", "left", "tail")
_IN_THE_EAR = ("done", "re-read")
_READS_WELL = (None, "clear")
_NOTHING = Register([], [])

Told = tuple[dict[str, Any], list[bytes]]


class Sheets(Struct, frozen=True):
    """The sheets a writer may tell of marks, and what each account of one follows.

    ``allowed``: the only device whose sheets it may amend; None where it may amend any.
    """

    shelf: Records
    follows: Callable[[bytes], bytes | None]
    allowed: bytes | None = None

    def of(self, animal: object) -> Record | None:
        """The sheet of an animal, where it stands and this writer may tell it something."""
        sheet = self.shelf.get(animal) if isinstance(animal, bytes) else None
        if sheet is None or sheet.kind != "animal" or not sheet.stands:
            return None
        barred = self.allowed is not None and sheet.first.author.device != self.allowed
        return None if barred else sheet


def sheets_of(view: View, shelf: Records, device: bytes) -> Sheets:
    """The sheets of a farm as a laptop may amend them: a helper's only those it wrote."""

    def follows(claim: bytes) -> bytes | None:
        entry = view.log.full(view.full_id(claim))
        return None if entry is None else entry.body.payload.get("follows")

    member = view.members().by_key.get(device)
    helper = member is not None and member.role == HELPER
    return Sheets(shelf, follows, device if helper else None)


def marks_told(kind: str, fields: Mapping[str, Value | None]) -> dict[str, str]:
    """What a tattoo says stands in the animal: fields of its sheet and their marks."""
    if kind != TATTOO or fields.get("stage") not in _IN_THE_EAR:
        return {}
    return {f"tattoo_{ear}": str(fields[ear]) for ear in EARS if _reads(fields, ear)}


def sheet_account(
    kind: str, fields: Mapping[str, Value], tattoo: bytes, sheets: Sheets
) -> Act | None:
    """The act by which a tattoo just recorded tells its animal's sheet; None where it adds nothing."""
    told = marks_told(kind, fields)
    sheet = sheets.of(fields.get("animal")) if told else None
    if sheet is None:
        return None
    claims = {
        field: claim for field, mark in told.items() if (claim := _beside(sheet, field, mark))
    }
    return composing.follow(sheet, claims, tattoo) if claims else None


def sheet_changes(tattoo: Record, act: Act, sheets: Sheets) -> Iterator[Act]:
    """The acts by which sheets follow a tattoo that ``act`` tells anew, takes back or restores.

    What the sheet says by this tattoo alone moves; what anyone else said stays beside it.
    """
    before, after = _fields(tattoo), _fields_after(tattoo, act)
    for animal in dict.fromkeys((before.get("animal"), after.get("animal"))):
        sheet = sheets.of(animal)
        if sheet is None:
            continue
        said, says = (
            marks_told(TATTOO, one) if one.get("animal") in sheet.ids else {}
            for one in (before, after)
        )
        claims = {
            field: claim
            for field in {**said, **says}
            if (claim := _moved(sheet, field, said.get(field), says.get(field), tattoo, sheets))
        }
        if claims:
            yield composing.follow(sheet, claims, tattoo.id, "the tattoo it follows was told anew")


def _fields(tattoo: Record) -> dict[str, Any]:
    if not tattoo.stands:
        return {}
    return {field: tattoo.value(field) for field in tattoo.field_names()}


def _fields_after(tattoo: Record, act: Act) -> dict[str, Any]:
    claims = dict(act.payload["claims"])
    if STANDS in claims and not claims.pop(STANDS)[0][STANDS]:
        return {}
    fields = {field: tattoo.value(field) for field in tattoo.field_names()}
    for register, told in claims.items():
        for field in CATALOGUE[TATTOO].registers.get(register, ()):
            fields[field] = told[0].get(field)
    return fields


def _moved(
    sheet: Record, field: str, said: str | None, says: str | None, tattoo: Record, sheets: Sheets
) -> Told | None:
    """What is to be claimed of one mark of a sheet; None where nothing is."""
    register = sheet.registers.get(field, _NOTHING)
    own = [claim for claim in register.standing if sheets.follows(claim.entry) in tattoo.ids]
    if own and _told_elsewhere(sheet, field, said, tattoo, sheets):
        own = []
    others = [claim for claim in register.standing if claim not in own]
    if says is None:
        agreed = len({claim.same_as for claim in others}) <= 1
        if not own or not agreed:
            return None
        return (dict(others[-1].values) if others else {}, [c.entry for c in register.standing])
    if not own:
        told_anew = said is None or folded(said) != folded(says)
        return _beside(sheet, field, says) if told_anew else None
    if all(_bears(claim, field, says) for claim in own):
        return None
    alike = next((dict(claim.values) for claim in others if _bears(claim, field, says)), None)
    return (alike or {field: says}, [claim.entry for claim in own])


def _told_elsewhere(
    sheet: Record, field: str, mark: str | None, tattoo: Record, sheets: Sheets
) -> bool:
    """Whether another tattoo of the animal says the same mark, so that the sheet rests on that too."""
    others = (one for one in sheets.shelf.naming(sheet.id, TATTOO) if one.id != tattoo.id)
    told = (marks_told(TATTOO, _fields(one)).get(field) for one in others)
    return mark is not None and any(one and folded(one) == folded(mark) for one in told)


def _beside(sheet: Record, field: str, mark: str) -> Told | None:
    """A further account beside what stands; None where the sheet says it already."""
    standing = sheet.registers.get(field, _NOTHING).standing
    if any(_bears(claim, field, mark) for claim in standing):
        return None
    return ({field: mark}, [claim.entry for claim in standing if not claim.values])


def _bears(claim: Claim, field: str, mark: str) -> bool:
    return field in claim.values and folded(claim.values[field]) == folded(mark)


def _reads(fields: Mapping[str, Value | None], ear: str) -> bool:
    if not fields.get(ear):
        return False
    return fields["stage"] == "done" or fields.get(f"legibility_{ear}") in _READS_WELL
