"""Writing: one call, one act. Read what the keeper typed, check it, sign it, store it, merge it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from herdsync import answers
from herdsync.acts import composing, finding
from herdsync.acts.composing import Changes
from herdsync.acts.filling import filled, taped
from herdsync.acts.looking import Looking
from herdsync.acts.marking import TATTOO, marks_told, sheet_account, sheet_changes, sheets_of
from herdsync.acts.typed import Index, Typed, read_changes, read_values
from herdsync.acts.undoing import newest_acts, undo
from herdsync.faults import Refused
from herdsync.kinds import Value, kind_named, parse_fields
from herdsync.kinds.ids import text_id
from herdsync.kinds.kind import Kind
from herdsync.log.entry import RECORD_BYTES, Entry, keyed_record_id
from herdsync.log.writer import Act
from herdsync.merge.conflicts import FIELD, PAIR, RETRACTED, RULE, Conflict
from herdsync.merge.folding import fold_tie
from herdsync.merge.payloads import DIFFERENT, SAME, STANDS, tie_id
from herdsync.merge.records import Record, Records
from herdsync.projections.names import Names
from herdsync.projections.settings import check_setting
from herdsync.store.store import Writing


class Acting(Looking):
    """The writing half of the door."""

    def record(
        self,
        kind: str,
        pairs: Mapping[str, str],
        animals: Sequence[str] = (),
        salt: bytes | None = None,
    ) -> answers.Recorded:
        """Write a record down; with several ``animals``, one each in one batch.

        ``salt`` (16 bytes) is a draft's: the same draft sent twice writes once. Raises Refused.
        """
        if not animals:
            return self.record_each(kind, [pairs], salt)
        subject = _subject(kind_named(kind))
        return self.record_each(kind, [dict(pairs) | {subject: one} for one in animals], salt)

    def record_each(
        self, kind: str, tellings: Sequence[Mapping[str, str]], salt: bytes | None = None
    ) -> answers.Recorded:
        """Write a record for each telling, several in one batch: all of them or none.

        ``salt`` as in `record`. Raises Refused.
        """
        spec = kind_named(kind)
        with self._writing() as (writing, typed):
            parsed, notes = _read(spec, tellings, typed, writing.shelf)
            many = len(parsed) > 1 or any(marks_told(spec.name, fields) for fields in parsed)
            batch = self._wall.entropy(RECORD_BYTES) if many else None
            ids = []
            for place, fields in enumerate(parsed):
                act, id = self._begin(writing, spec, fields)
                own = salt if salt is None or place == 0 else _further(salt, place)
                entry = writing.append(act, batch, own)
                # A draft sent again answers with the batch it was written in.
                batch = entry.body.batch
                ids.append(id or entry.record_id)
            self._tell_sheets(writing, spec.name, parsed, ids, batch)
        texts = [text_id(id) for id in ids]
        warnings = [*dict.fromkeys(notes), *self._warnings(ids)]
        if batch is None or len(parsed) == 1:
            return answers.Recorded(id=texts[0], kind=kind, warnings=warnings)
        return answers.Recorded(kind=kind, batch=text_id(batch), ids=texts, warnings=warnings)

    def _tell_sheets(
        self, writing: Writing, kind: str, parsed: Sequence[Mapping[str, Value]],
        ids: Sequence[bytes], batch: bytes | None,
    ) -> None:  # fmt: skip
        """Let the sheets of animals follow tattoos just recorded."""
        if kind != TATTOO:
            return
        sheets = sheets_of(writing.view, writing.shelf, self._store.device)
        for fields, id in zip(parsed, ids, strict=True):
            told = sheet_account(kind, fields, id, sheets)
            if told is not None:
                writing.append(told, batch)

    def _append(self, writing: Writing, record: Record, act: Act) -> Entry:
        """Write a change of a record; of a tattoo, with what its animal's sheet says by it."""
        if record.kind != TATTOO:
            return writing.append(act)
        sheets = sheets_of(writing.view, writing.shelf, self._store.device)
        following = list(sheet_changes(record, act, sheets))
        batch = self._wall.entropy(RECORD_BYTES) if following else None
        entry = writing.append(act, batch)
        for one in following:
            writing.append(one, batch)
        return entry

    def _begin(
        self, writing: Writing, spec: Kind, fields: Mapping[str, Value]
    ) -> tuple[Act, bytes | None]:
        """The act that writes a record; on a key that is there already, one that tells it anew."""
        if spec.keyed is None:
            return composing.begin(spec, fields), None
        key = str(fields[spec.keyed])
        if spec.name == "setting":
            _check_setting(key, str(fields["value"]))
        id = keyed_record_id(self._store.farm, spec.name, key)
        there = writing.shelf.get(id)
        if there is None:
            return composing.begin(spec, fields), id
        told = {name: value for name, value in fields.items() if name != spec.keyed}
        because = str(told.get("because", ""))
        if not there.stands:
            return composing.write_again(there, told, because or "written again"), id
        return composing.amend(there, Changes(told), because), id

    def amend(
        self, ref: str, changes: Sequence[str], because: str = "", shown: Sequence[str] = ()
    ) -> answers.Written:
        """Tell fields anew: ``field=text``, ``field=`` clears, ``field+=x`` and ``field-=x`` for sets.

        ``shown`` lists the claim ids that were on the screen: anything newer refuses the amendment.
        """
        with self._writing() as (writing, typed):
            record = finding.find_record(Index(writing.view), ref)
            act = self._amendment(record, changes, typed, because, shown)
            entry = self._append(writing, record, act)
        return self._written(record.id, entry.id, [record.id])

    def _amendment(
        self,
        record: Record,
        changes: Sequence[str],
        typed: Typed,
        because: str,
        shown: Sequence[str],
    ) -> Act:
        if list(changes) == [f"{STANDS}=yes"]:
            return composing.restore(record, because)
        seen = {composing.claim_id(one) for one in shown}
        return composing.amend(record, read_changes(record, changes, typed), because, seen)

    def retract(self, ref: str, because: str) -> answers.Written:
        """Take a record back, with the reason. Raises Refused without one."""
        if not because.strip():
            raise Refused("A record is taken back only with a reason.", "Say why with --because.")
        with self._writing() as (writing, _):
            record = finding.find_record(Index(writing.view), ref)
            entry = self._append(writing, record, composing.retract(record, because))
        return self._written(record.id, entry.id, [record.id])

    def undo(self) -> answers.Written:
        """Take back this device's newest act, or the whole batch it was part of. Raises Refused."""
        with self._writing() as (writing, _):
            own = writing.own_chain()
            newest = newest_acts(writing.view.log.backwards(own.number) if own else ())
            acts = undo(newest, writing.shelf, Names(writing.shelf))
            batch = self._wall.entropy(RECORD_BYTES) if len(acts) > 1 else None
            entries = [writing.append(act, batch) for act in acts]
        subject = acts[0].payload.get("of") or acts[0].payload["a"]
        return self._written(subject, entries[0].id, [])

    def resolve(
        self, conflict: str, *, take: str = "", value: str | None = None, accept: bool = False,
        because: str = "",
    ) -> answers.Written:  # fmt: skip
        """Resolve a disagreement: take one account, give another value, or let a broken rule stand."""
        with self._writing() as (writing, typed):
            found = self._open_conflict(writing, conflict)
            act = self._resolution(writing, found, typed, take, value, accept, because)
            record = None if found.kind == RULE else writing.shelf.get(found.records[0])
            entry = writing.append(act) if record is None else self._append(writing, record, act)
        return self._written(found.records[0], entry.id, list(found.records))

    def _open_conflict(self, writing: Writing, text: str) -> Conflict:
        found = finding.find_conflict(Index(writing.view), text)
        if found.open:
            return found
        newer = [
            one for one in writing.shelf.every_conflict() if one.open and one.after == found.id
        ]
        if newer:
            told = ", ".join(text_id(claim.entry)[:8] for claim in newer[0].claims)
            raise Refused(
                f"This conflict has grown since: it is now {text_id(newer[0].id)[:12]} "
                f"with the accounts {told}.",
                "Look at it again, then resolve that one.",
            )
        raise Refused("This conflict was resolved already.", "See 'herdsync conflicts --all'.")

    def _resolution(
        self, writing: Writing, found: Conflict, typed: Typed, take: str, value: str | None,
        accept: bool, because: str,
    ) -> Act:  # fmt: skip
        if found.kind == RULE:
            if not accept:
                raise Refused(
                    f"{found.says} There is no account to take.",
                    found.mend + " Or let it stand with --accept --because.",
                )
            return composing.accept(found, because)
        if found.kind == PAIR:
            a, b = (text_id(one)[:12] for one in found.records)
            raise Refused(
                "Whether two records are one is said, not taken.",
                f"Use 'herdsync same {a} {b}' or 'herdsync different {a} {b}'.",
            )
        record = writing.shelf.get(found.records[0])
        assert record is not None, "a conflict's record is here"
        if found.kind == RETRACTED or found.field == STANDS:
            return composing.resolve_standing(
                found, record, _said_to_stand(found, take, value), because
            )
        assert found.kind == FIELD
        if take:
            whole = composing.taken_claim(found, take).values
        elif value is not None:
            values = read_values(record, found.field, value, typed)
            whole = composing.completed(record.registers[found.field], values)
        else:
            raise Refused(
                "Nothing says what is right.", "Take an account with --take, or give --value."
            )
        return composing.resolve_field(found, record, whole, because)

    def same(self, a: str, b: str, because: str = "") -> answers.Written:
        """Say that two records of one kind are one."""
        return self._tie(SAME, a, b, because)

    def different(self, a: str, b: str, because: str = "") -> answers.Written:
        """Say that two records are two, also after someone joined them."""
        return self._tie(DIFFERENT, a, b, because)

    def _tie(self, verb: str, a: str, b: str, because: str) -> answers.Written:
        with self._writing() as (writing, _):
            one, other = self._both(writing, a, b)
            verdict = fold_tie(
                tie_id(one.id, other.id),
                writing.shelf.touching(tie_id(one.id, other.id)),
                writing.view.members(),
            )
            entry = writing.append(composing.tie(verb, one, other, verdict, because))
        return self._written(one.id, entry.id, [])

    def _both(self, writing: Writing, a: str, b: str) -> tuple[Record, Record]:
        """Two records by their own ids, even where they are joined at present."""
        index = Index(writing.view)
        found = []
        for text in (a, b):
            bounds = finding.id_range(text, RECORD_BYTES)
            own = (
                index.record_ids(*bounds) if bounds and len(text) >= finding.SHORTEST_PREFIX else []
            )
            record = finding.find_record(index, text)
            id = own[0] if len(own) == 1 else record.id
            found.append(Record(id, record.ids, record.kind, record.registers))
        if found[0].id == found[1].id:
            raise Refused("That is one and the same record.", "Name two records.")
        return found[0], found[1]

    def skip(self, work: str, because: str, about: str = "") -> answers.Recorded:
        """Leave one piece of due work undone, with the reason. Raises Refused where none is meant."""
        work, about = self._work(work, about)
        pairs = {"work": work, "because": because} | ({"about": about} if about else {})
        return self.record("skip", pairs)

    def postpone(self, work: str, until: str, because: str, about: str = "") -> answers.Recorded:
        """Put one piece of due work off until a day, with the reason. Raises Refused as ``skip``."""
        work, about = self._work(work, about)
        pairs = {"work": work, "until": until, "because": because}
        return self.record("postpone", pairs | ({"about": about} if about else {}))

    def _work(self, told: str, about: str) -> tuple[str, str]:
        """The id of the due work that the text is or begins, and whom it is for."""
        if len(told) == finding.ID_LETTERS:
            return told, about
        with self._rounds() as rounds:
            line = finding.find_work(rounds.lines(everything=True), told)
        return line.id, about or line.animal or line.subject

    def set(self, key: str, value: str, because: str = "") -> answers.Recorded:
        """Set one of the farm's settings. Raises Refused where it cannot take the value."""
        return self.record("setting", {"key": key, "value": value} | _if("because", because))

    def _written(self, id: bytes, entry: bytes, ids: list[bytes]) -> answers.Written:
        return answers.Written(text_id(id), text_id(entry), self._warnings(ids))


def _read(
    spec: Kind, tellings: Sequence[Mapping[str, str]], typed: Typed, shelf: Records
) -> tuple[list[dict[str, Value]], list[str]]:
    """The fields of each record told, completed from what is on record, and what was completed."""
    parsed, notes = [], []
    for told in tellings:
        pairs, by_tape = taped(spec, told, typed, shelf)
        fields, by_product = filled(spec, parse_fields(spec, pairs, typed, partial=False), shelf)
        parsed.append(fields)
        notes += by_tape + by_product
    return parsed, notes


def _subject(kind: Kind) -> str:
    if kind.subject is None:
        raise Refused(f"A {kind.title} is not about one animal.", "Leave --for out.")
    return kind.subject


def _said_to_stand(found: Conflict, take: str, value: str | None) -> bool:
    if take:
        return bool(composing.taken_claim(found, take).values.get(STANDS, True))
    if value in ("yes", "no"):
        return value == "yes"
    raise Refused("Does the record stand?", "Say --value yes or --value no, or --take an account.")


def _check_setting(key: str, value: str) -> None:
    try:
        check_setting(key, value)
    except ValueError as fault:
        raise Refused(
            f"Setting '{key}' was not changed: {fault}.", "See 'herdsync settings'."
        ) from None


def _further(salt: bytes, place: int) -> bytes:
    """The salt of the ``place``-th record of one draft."""
    number = int.from_bytes(salt, "big") ^ place
    return number.to_bytes(len(salt), "big")


def _if(name: str, text: str) -> dict[str, str]:
    return {name: text} if text else {}
