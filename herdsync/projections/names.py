"""What records are called in sentences: a goat by its name, an act by what it was and when."""

from __future__ import annotations

from herdsync.kinds import CATALOGUE
from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record, Records
from herdsync.merge.shelf import CHORE

SHORT_ID = 6


class Names:
    """Names of records, looked up once each."""

    def __init__(self, records: Records) -> None:
        self._records = records
        self._found: dict[bytes, str] = {}

    def __call__(self, id: bytes) -> str:
        """What the record is called; the start of its id where it is not here."""
        if id not in self._found:
            record = self._records.get(id)
            self._found[id] = text_id(id)[:SHORT_ID] if record is None else self.of(record)
        return self._found[id]

    def of(self, record: Record) -> str:
        """What a record is called: its own name, else its kind, whom it is about and when."""
        kind = CATALOGUE.get(record.kind)
        if kind is None:
            return f"{record.kind} {text_id(record.id)[:SHORT_ID]}"
        for field in kind.names:
            told = record.value(field)
            if told:
                return str(told)
        if record.kind == "animal" and (kid := self._kid(record)):
            return kid
        about = record.value(kind.subject) if kind.subject else None
        when = record.value(kind.on) if kind.on else None
        parts = [kind.title]
        if record.kind == CHORE:
            # Which one it was: of chores there are many a day.
            parts.append(f"({str(record.value('item', '?')).replace('-', ' ')})")
        if isinstance(about, bytes) and about not in record.ids:
            parts.append(f"of {self(about)}")
        pen = record.value("pen") if kind.subject is None else None
        if isinstance(pen, bytes):
            parts.append(f"in {self(pen)}")
        if isinstance(when, str):
            parts.append(f"on {when[:10]}")
        if len(parts) == 1:
            parts.append(text_id(record.id)[:SHORT_ID])
        return " ".join(parts)

    def _kid(self, record: Record) -> str:
        """A kid without a name, by its dam's and its place in the litter; empty where that is not told.

        The start of its id stays with it: by that it is found until it has a name or a mark.
        """
        dam = record.value("dam")
        found = self._records.get(dam) if isinstance(dam, bytes) else None
        called = found.value("name") if found is not None else None
        if not called:
            return ""
        order = record.value("birth_order")
        place = f" {order}" if order else ""
        return f"kid{place} of {called} ({text_id(record.id)[:SHORT_ID]})"
