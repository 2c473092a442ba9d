"""The fold: entries in, records and disagreements out, kept up to date act by act.

Folding entry by entry, in any order, or all at once leaves the same things on the shelf.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from herdsync.log.entry import CRITICAL, RECORD_BYTES, Entry
from herdsync.log.trust import AUTHORITY_VERBS, Members, Standing
from herdsync.merge import rules
from herdsync.merge.conflicts import Conflict, conflicts_of, conflicts_of_tie, once
from herdsync.merge.folding import RawRecord, fold, fold_tie, join
from herdsync.merge.payloads import (
    DIFFERENT,
    RECORD,
    SAME,
    VERDICT,
    Accept,
    Tie,
    Unreadable,
    read_payload,
    target_of,
)
from herdsync.merge.records import Record, Register
from herdsync.merge.shelf import Shelf, Unread, refs_of

Saw = Callable[[bytes, bytes], bool]

# Scopes of disagreements between records: about one animal, or across the herd.
ABOUT = b"about"
HERD = b"herd"


class Fold:
    """Keeps a shelf equal to what its entries say.

    ``members`` answers who may write; ``saw(later, earlier)`` tells by entry id (its first 16 bytes)
    whether the writer of one had seen the other.
    """

    def __init__(self, shelf: Shelf, members: Callable[[], Members], saw: Saw) -> None:
        self.shelf = shelf
        self._members = members
        self._saw = saw

    def take(self, entries: Iterable[Entry]) -> None:
        """Fold more entries in."""
        dirty: dict[bytes, None] = {}
        for entry in entries:
            if entry.header.verb in AUTHORITY_VERBS:
                continue
            try:
                dirty.update(dict.fromkeys(self._note(entry)))
            except Unreadable as fault:
                self._unread(entry.id, [entry], {entry.id: str(fault)})
        self._refold(dirty)

    def _note(self, entry: Entry) -> list[bytes]:
        """Put an entry where it belongs and answer the records it may change."""
        target = target_of(entry)
        if target is None:
            accept = read_payload(entry, Accept)
            if self._members().standing(entry, own=False) is Standing.VOUCHED:
                self.shelf.accept(accept.conflict, entry.id[:RECORD_BYTES])
            return []
        self.shelf.touch(target, entry)
        if entry.header.verb in (SAME, DIFFERENT):
            tie = read_payload(entry, Tie)
            # Whoever names the pair first: what is kept of it must not depend on who came first.
            self.shelf.tie(target, min(tie.a, tie.b), max(tie.a, tie.b))
            return [tie.a, tie.b]
        return [target]

    def _refold(self, dirty: dict[bytes, None]) -> None:
        """Fold the dirty records anew, with all that they were or are now joined to."""
        members = self._members()
        done: set[bytes] = set()
        touched: set[bytes] = set()
        regrouped: set[bytes] = set()
        animals = False
        queue = list(dirty)
        while queue:
            one = queue.pop()
            if one in done:
                continue
            before = self.shelf.get(one)
            group = self._component(one, members)
            queue.extend(before.ids if before is not None else [])
            if len(group) > 1 or (before is not None and len(before.ids) > 1):
                regrouped |= group
            done |= group
            for gone in {self.shelf.canonical(member) for member in group}:
                old = self.shelf.get(gone)
                if old is not None:
                    queue.extend(set(old.ids) - done)
                    touched |= refs_of(old) | {gone}
                    self.shelf.drop(gone)
                    self.shelf.put_conflicts(gone, [])
            record = self._join(group, members)
            if record is not None:
                self._put(record)
                touched |= refs_of(record) | {record.id}
            animals = animals or rules.of_herd(before) or rules.of_herd(record)
        # What names a joined or parted record may now agree or disagree with other acts.
        for one in regrouped:
            for record in self.shelf.naming(one):
                touched |= refs_of(record)
        self._check_rules(touched, animals)

    def _component(self, record: bytes, members: Members) -> set[bytes]:
        """The records joined with one by verdicts of `same` that nobody contradicts."""
        found = {record}
        queue = [record]
        while queue:
            for tie, a, b in self.shelf.ties_of(queue.pop()):
                verdict = fold_tie(tie, self.shelf.touching(tie), members)
                news = {a, b} - found
                if news and joins(verdict) and self._one_kind(a, b):
                    found |= news
                    queue.extend(news)
        return found

    def _one_kind(self, a: bytes, b: bytes) -> bool:
        """Whether two records are here and of one kind: nothing else can be the same."""
        kinds = []
        for one in (a, b):
            beginning = [e for e in self.shelf.touching(one) if e.header.verb == RECORD]
            kinds.append({entry.header.kind for entry in beginning})
        return bool(kinds[0]) and kinds[0] == kinds[1]

    def _join(self, group: set[bytes], members: Members) -> Record | None:
        raws: list[RawRecord] = []
        for one in sorted(group):
            entries = self.shelf.touching(one)
            raw = fold(one, entries, members)
            self._unread(one, entries, raw.unreadable)
            if raw.claims:
                raws.append(raw)
        return join(raws) if raws else None

    def _put(self, record: Record) -> None:
        self.shelf.put(record)
        self.shelf.put_conflicts(record.id, once([*conflicts_of(record), *self._ties(record)]))

    def _ties(self, record: Record) -> Iterator[Conflict]:
        members = self._members()
        for tie, a, b in sorted({tie for id in record.ids for tie in self.shelf.ties_of(id)}):
            if self._one_kind(a, b):
                verdict = fold_tie(tie, self.shelf.touching(tie), members)
                joined = {a, b} <= set(record.ids)
                yield from conflicts_of_tie(record.kind, (a, b), verdict, joined)

    def _unread(self, scope: bytes, entries: list[Entry], why: dict[bytes, str]) -> None:
        unread = [
            Unread(
                entry.id, why[entry.id], bool(entry.header.flags & CRITICAL), entry.header.subjects
            )
            for entry in entries
            if entry.id in why
        ]
        self.shelf.put_unread(scope, unread)

    def _check_rules(self, touched: set[bytes], animals: bool) -> None:
        """Derive the disagreements between records anew wherever something changed."""
        members = self._members()
        scopes = {self.shelf.canonical(one) for one in touched}
        for joined in sorted(touched - scopes):
            self.shelf.put_conflicts(ABOUT + joined, [])
        for scope in sorted(scopes):
            found = rules.about(self.shelf, scope, self._saw, self._verdicts(members))
            self.shelf.put_conflicts(ABOUT + scope, once(found))
        if animals:
            found = rules.across_herd(self.shelf, self._verdicts(members), self._saw)
            self.shelf.put_conflicts(HERD, once(found))

    def _verdicts(self, members: Members) -> rules.Verdicts:
        def verdict(a: Record, b: Record) -> Register | None:
            for tie, one, other in self.shelf.ties_of(a.id) + [
                pair for id in a.ids if id != a.id for pair in self.shelf.ties_of(id)
            ]:
                if {one, other} <= {*a.ids, *b.ids} and ({one, other} & set(b.ids)):
                    return fold_tie(tie, self.shelf.touching(tie), members)
            return None

        return verdict


def joins(verdict: Register) -> bool:
    """Whether a pair's verdicts join it: someone says same, and nobody's standing word differs."""
    said = {claim.values[VERDICT] for claim in verdict.standing}
    return said == {True}
