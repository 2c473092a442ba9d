"""A seeded herd with years behind it, as acts written one by one: what a due board is measured on.

The same seed makes the same herd, wherever it is written to.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta
from itertools import islice
from random import Random
from typing import Any

from herdsync.kinds import CATALOGUE
from herdsync.merge.folding import registers_of
from herdsync.merge.payloads import RECORD, STANDS
from herdsync.merge.records import Author, Claim, Record, Register

NOW = datetime.fromisoformat("2026-05-20T07:00:00+00:00")
TODAY = NOW.date()
PENS = 20
MILK_SHARE = 0.4
KID_ACTS = 14


def record(kind: str, number: int, fields: dict[str, Any]) -> Record:
    """One record as the fold leaves what one device told once; ``number`` makes its id and place."""
    id = hashlib.sha256(f"{kind}/{number}".encode()).digest()[:16]
    author = Author(bytes(32), "Oda", "Oda", 1_700_000_000_000 + number, number, False)
    registers = {
        name: Register([Claim(id, id, name, values, [], RECORD, author, "", True)], [])
        for name, values in registers_of(CATALOGUE[kind], fields).items()
    }
    standing = Claim(id, id, STANDS, {STANDS: True}, [], RECORD, author, "", True)
    registers[STANDS] = Register([standing], [])
    return Record(id, [id], kind, dict(sorted(registers.items())))


Write = Callable[[str, dict[str, Any]], bytes]


class History:
    """Acts of a herd of so many animals; ``write`` takes kind and fields and answers the record id."""

    def __init__(self, animals: int, records: int, write: Write, seed: int = 7) -> None:
        self._dice = Random(seed)
        self._write = write
        self.written = 0
        self.pens = [self._add("pen", name=f"Pen {n:02d}", walk=n) for n in range(PENS)]
        self.product = self._add(
            "product", substance="invented wormer", milk_h=[96, 0, "h"], meat_d=[14, 0, "d"]
        )
        self.bucks = [self._animal(n, "buck", 3 * 365 + 30 * n) for n in range(animals * 4 // 100)]
        grown = [self._animal(n, "doe", 600 + 11 * n % 2900) for n in range(animals * 66 // 100)]
        kids = animals - len(self.bucks) - len(grown)
        young = [self._animal(n, ("doe", "buck")[n % 2], 5 + n % 120) for n in range(kids)]
        each = max(4, (records - self.written) // animals)
        for place, (id, born) in enumerate([*self.bucks, *grown, *young]):
            self._life(place, id, born, each, milked=place >= len(self.bucks) and born < _ago(500))
        self._doing(records - self.written)

    def _add(self, kind: str, **fields: Any) -> bytes:
        self.written += 1
        return self._write(kind, fields)

    def _animal(self, number: int, sex: str, age: int) -> tuple[bytes, date]:
        born = _ago(age)
        id = self._add(
            "animal", name=f"{sex.title()} {number}/{age}", sex=sex, born=born.isoformat(),
            horns_born="horned", standing="here", breed="Saanen",
        )  # fmt: skip
        return id, born

    def _life(self, place: int, id: bytes, born: date, most: int, milked: bool) -> None:
        pen = self.pens[place % PENS]
        self._add("pen-move", animal=id, pen=pen, on=max(born, _ago(60)).isoformat())
        if born > _ago(200):
            acts = islice(self._youth(id, born), min(most - 1, KID_ACTS))
        else:
            acts = islice(self._care(id, born, milked), int(most * (1 - MILK_SHARE)) - 1)
        for kind, on, fields in list(acts):
            self._add(kind, on=on.isoformat(), **fields)
        if milked:
            for n in range(int(most * MILK_SHARE)):
                day, milking = _ago(1 + n // 2), ("evening", "morning")[n % 2]
                self._add(
                    "milk", doe=id, on=day.isoformat(), milking=milking, milk_kg=[18, -1, "kg"]
                )

    def _youth(self, id: bytes, born: date) -> Iterator[tuple[str, date, dict[str, Any]]]:
        days: list[tuple[int, str, dict[str, Any]]] = [
            (5, "disbudding", {}),
            (42, "vaccination", {"product": self.product}),
        ]
        days += [(n, "weighing", {"weight_kg": [31 + 2 * n, -1, "kg"]}) for n in range(1, 120, 14)]
        days += [(70, "weaning", {}), (35, "tattoo", {"stage": "done"})]
        for day, kind, fields in sorted(days, key=lambda one: one[0]):
            if born + timedelta(days=day) < TODAY:
                yield kind, born + timedelta(days=day), {"animal": id, **fields}

    def _care(
        self, id: bytes, born: date, milked: bool
    ) -> Iterator[tuple[str, date, dict[str, Any]]]:
        """Care newest first, one year after another, back to birth."""
        shift = self._dice.randrange(30)
        for year in range(12):
            for kind, ago, fields in sorted(self._year(id, milked), key=lambda one: one[1]):
                day = _ago(ago + shift + 365 * year)
                if day > born:
                    yield kind, day, fields

    def _year(self, id: bytes, milked: bool) -> Iterator[tuple[str, int, dict[str, Any]]]:
        own: dict[str, Any] = {"animal": id}
        yield from (("hoof-trim", 10 + 60 * n, own | {"front_left": "ok"}) for n in range(6))
        yield from (("eyelid-score", 2 + 20 * n, own | {"score": 2}) for n in range(18))
        yield from (
            ("condition-score", 5 + 30 * n, own | {"score": [3, 0, "pt"]}) for n in range(12)
        )
        yield from (("dose", 40 + 180 * n, own | {"product": self.product}) for n in range(2))
        yield "vaccination", 100, own | {"product": self.product}
        for n, disease in enumerate(("CAE", "CL", "Johne's")):
            yield "disease-test", 130 + n, own | {"disease": disease, "result": "negative"}
        if milked:
            doe: dict[str, Any] = {"doe": id}
            yield "kidding", 20, doe
            yield "dry-off", 90, doe
            yield "pregnancy-check", 130, doe | {"result": "bred"}
            yield "mating", 172, doe | {"buck": self._dice.choice(self.bucks)[0]}

    def _doing(self, left: int) -> None:
        """Chores of the pens, newest first, for what is left of the number asked for."""
        items = ("water-and-feed", "bedding", "minerals")
        for n in range(max(0, left)):
            at = NOW - timedelta(hours=1 + 12 * (n // (PENS * 3)))
            pen, item = self.pens[n % PENS], items[n // PENS % 3]
            self._add("chore-done", about=pen, on=at.isoformat(), item=item)


def _ago(days: int) -> date:
    return TODAY - timedelta(days=days)
