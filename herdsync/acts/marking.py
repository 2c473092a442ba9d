"""What a tattoo says of its animal's sheet: marks read off the animal follow from its tattoo.

A mark that is done, or read again clearly, becomes an account of the sheet in the same batch. It
stands beside what the sheet said and replaces nothing: where the two differ that is a conflict.
"""

from __future__ import annotations

from collections.abc import Mapping

from herdsync.acts import composing
from herdsync.kinds import Value
from herdsync.log.writer import Act
from herdsync.merge.pedigree import folded
from herdsync.merge.records import Records

EARS = ("right", "left", "tail")
_IN_THE_EAR = ("done", "re-read")
_READS_WELL = (None, "clear")


def sheet_account(
    kind: str, fields: Mapping[str, Value], shelf: Records, allowed: bytes | None = None
) -> Act | None:
    """The act by which a tattoo just recorded tells its animal's sheet; None where it adds nothing.

    ``allowed``: the only device whose sheets this writer may amend; None where it may amend any.
    """
    animal = fields.get("animal")
    if kind != "tattoo" or fields.get("stage") not in _IN_THE_EAR or not isinstance(animal, bytes):
        return None
    sheet = shelf.get(animal)
    if sheet is None or sheet.kind != "animal" or not sheet.stands:
        return None
    if allowed is not None and sheet.first.author.device != allowed:
        return None
    told = {f"tattoo_{ear}": str(fields[ear]) for ear in EARS if _reads(fields, ear)}
    lacking = {
        field: mark
        for field, mark in told.items()
        if folded(mark) not in {folded(one) for one in sheet.values(field)}
    }
    return composing.account(sheet, lacking) if lacking else None


def _reads(fields: Mapping[str, Value], ear: str) -> bool:
    if not fields.get(ear):
        return False
    return fields["stage"] == "done" or fields.get(f"legibility_{ear}") in _READS_WELL
