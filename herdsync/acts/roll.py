"""The animals here and those a file brings: who goes by which name or mark, and who is brought twice."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from herdsync.faults import Refused
from herdsync.kinds import CATALOGUE
from herdsync.kinds.ids import text_id
from herdsync.merge.pedigree import folded
from herdsync.merge.records import Record
from herdsync.papers.lines import Line

ANIMAL = CATALOGUE["animal"]
_ALONE = ("tattoo_tail", "tag", "chip", "registry_no")


@dataclass
class Roll:
    """Names and marks of animals: those here by record, those of the file by the id they will have."""

    _brought: dict[str, list[bytes]] = field(default_factory=dict)
    _marks: dict[str, tuple[bytes, str]] = field(default_factory=dict)
    _named: dict[str, list[tuple[bytes, str, str]]] = field(default_factory=dict)

    def know(self, records: Iterable[Record]) -> None:
        """Take note of the animals that are here."""
        for record in records:
            told = {name: record.value(name) for name in ANIMAL.fields}
            self._note(record.id, told, "here")

    def bring(self, lines: Iterable[tuple[bytes, Line]]) -> None:
        """Take note of whom the lines of a file name, in place of what was brought before."""
        self._brought = {}
        for id, line in lines:
            called = (*ANIMAL.names, *ANIMAL.marks)
            words = {folded(text_id(id))}
            words |= {folded(line.pairs[one]) for one in called if one in line.pairs}
            if "tattoo_right" in line.pairs and "tattoo_left" in line.pairs:
                words.add(folded(line.pairs["tattoo_right"] + line.pairs["tattoo_left"]))
                words.discard(folded(line.pairs["tattoo_right"]))
            for word in words:
                ids = self._brought.setdefault(word, [])
                if id not in ids:
                    ids.append(id)

    def brought(self, text: str) -> list[bytes]:
        """Whom of the file's animals the text may mean."""
        return self._brought.get(folded(text), [])

    def refuse_double(self, id: bytes, fields: Mapping[str, Any], where: str) -> None:
        """Raise Refused where an animal is here, or in the file, already; else note it as ``where``."""
        for mark in _marks_of(fields):
            other, there = self._marks.get(mark, (id, ""))
            if other != id:
                raise Refused(
                    f"Its mark is that of an animal {there} ({text_id(other)[:8]}).",
                    "Read it again, or leave the line out.",
                )
        name, born = str(fields.get("name", "")), fields.get("born")
        for other, their, there in self._named.get(folded(name), []) if name else []:
            if other != id and (not their or not born or born == their):
                raise Refused(
                    f"An animal called {name} is {there} already.",
                    "Leave the line out, or tell them apart by birth date or another name.",
                )
        self._note(id, fields, where)

    def _note(self, id: bytes, fields: Mapping[str, Any], where: str) -> None:
        for mark in _marks_of(fields):
            self._marks.setdefault(mark, (id, where))
        name = str(fields.get("name") or "")
        if name:
            self._named.setdefault(folded(name), []).append(
                (id, str(fields.get("born") or ""), where)
            )


def _marks_of(fields: Mapping[str, Any]) -> list[str]:
    """The marks that tell one animal from every other: both ears together, or one of the rest."""
    found = [f"{name} {folded(str(fields[name]))}" for name in _ALONE if fields.get(name)]
    if fields.get("tattoo_right") and fields.get("tattoo_left"):
        found.append(f"ears {folded(str(fields['tattoo_right']) + str(fields['tattoo_left']))}")
    return found
