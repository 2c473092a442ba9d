"""The fold: entries in, records and disagreements out, kept up to date act by act.

Folding entry by entry, in any order, or all at once leaves the same things on the shelf.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator

from herdsync.log.entry import CRITICAL, RECORD_BYTES, Entry
from herdsync.log.trust import AUTHORITY_VERBS, Members, Standing
from herdsync.merge.beside import beside_others
from herdsync.merge.conflicts import Conflict, conflicts_of, conflicts_of_tie, once
from herdsync.merge.folding import RawRecord, fold, fold_tie, join
from herdsync.merge.lone import Beginning, Lone, lone_among
from herdsync.merge.payloads import (
    DIFFERENT,
    RECORD,
    SAME,
    VERDICT,
    Accept,
    Tie,
    Unreadable,
    beginning_of,
    read_payload,
    target_of,
)
from herdsync.merge.records import Record, Register
from herdsync.merge.rules import ARRIVAL, LOOP, Rules, Verdicts
from herdsync.merge.shelf import Shelf, Unread

Saw = Callable[[bytes, bytes], bool]


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
        """Fold more entries in, none of them for the second time."""
        dirty: dict[bytes, None] = {}
        begun: list[Beginning] = []
        for entry in entries:
            if entry.header.verb in AUTHORITY_VERBS:
                continue
            try:
                if entry.header.verb == RECORD:
                    begun.append(beginning_of(entry))
                else:
                    dirty.update(dict.fromkeys(self._note(entry)))
            except Unreadable as fault:
                self._unread(entry.id, [entry], {entry.id: str(fault)})
        alone = self._alone(begun)
        dirty.update(dict.fromkeys(id for id, _, _ in begun if id not in alone))
        self._refold(dirty, alone)

    def _alone(self, begun: list[Beginning]) -> dict[bytes, Lone]:
        """Keep what one new entry says whole, as nearly all do; the rest waits for the whole fold."""
        ids = [id for id, _, _ in begun]
        more = self.shelf.spoken_of(ids)
        if len(set(ids)) < len(ids):
            more |= {id for id, times in Counter(ids).items() if times > 1}
        self.shelf.begin([(id, entry) for id, entry, _ in begun])
        records = lone_among((one for one in begun if one[0] not in more), self._members())
        found = {record.id: record for record in records}
        self.shelf.put_new(list(found.values()))
        return found

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

    def _refold(self, dirty: dict[bytes, None], alone: dict[bytes, Lone]) -> None:
        """Fold the dirty records anew, with all that they were or are now joined to; check the rules."""
        members = self._members()
        done: set[bytes] = set()
        changed: set[bytes] = set()
        arrivals = [record for record in alone.values() if record.kind == ARRIVAL]
        returned = {animal for record in arrivals for animal in _came_back(record)}
        regrouped: set[bytes] = set()
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
                    changed.add(gone)
                    returned |= _came_back(old)
                    self.shelf.drop(gone)
                    self.shelf.put_conflicts(gone, [])
            record = self._join(group, members)
            if record is not None:
                self._put(record)
                changed.add(record.id)
                returned |= _came_back(record)
        # What names a joined or parted record may now agree or disagree with other acts.
        for one in regrouped:
            changed |= {record.id for record in self.shelf.naming(one)}
        self._check_rules(changed, returned, alone)

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

    def _check_rules(
        self, changed: set[bytes], returned: set[bytes], alone: dict[bytes, Lone]
    ) -> None:
        """Hold what changed against what lies beside it; ``returned`` animals told of a coming back."""
        rules = Rules(self.shelf, self._saw, self._verdicts(self._members()))
        for animal in returned:
            departures = rules.departures(self.shelf.canonical(animal))
            changed = changed | {one.id for one in departures}
        lost = {one.id: one for id in changed for one in self.shelf.between(id)}
        self.shelf.drop_between(lost.values())
        found = (self.shelf.get(id) for id in sorted(changed - alone.keys()))
        records = [one for one in found if one is not None and one.id in changed]
        records += beside_others(alone, self.shelf)
        self.shelf.put_between(once(one for record in records for one in rules.of(record)))
        parted = {id for one in lost.values() if one.field == LOOP for id in one.records}
        self._check_descent(rules, [*records, *filter(None, map(self.shelf.get, sorted(parted)))])

    def _check_descent(self, rules: Rules, seeds: list[Record]) -> None:
        """Find loops of descent anew; one that grew takes the place of those within it."""
        for loop in list(rules.loops(seeds)):
            within = [one for id in loop.records for one in self.shelf.between(id)]
            self.shelf.drop_between(one for one in within if one.field == LOOP)
            self.shelf.put_between([loop])

    def _verdicts(self, members: Members) -> Verdicts:
        def verdict(a: Record, b: Record) -> Register | None:
            """The words that stand on whether two records are one, of the first pair that has any."""
            ties = {tie for id in a.ids for tie in self.shelf.ties_of(id)}
            for one, other, tie in sorted((one, other, tie) for tie, one, other in ties):
                apart = (one in a.ids and other in b.ids) or (one in b.ids and other in a.ids)
                if apart:
                    said = fold_tie(tie, self.shelf.touching(tie), members)
                    if said.standing:
                        return said
            return None

        return verdict


def _came_back(record: Record) -> set[bytes]:
    """The animals that an arrival speaks of."""
    told = record.values("animal") if record.kind == ARRIVAL else []
    return {one for one in told if isinstance(one, bytes)}


def joins(verdict: Register) -> bool:
    """Whether a pair's verdicts join it: someone says same, and nobody's standing word differs."""
    said = {claim.values[VERDICT] for claim in verdict.standing}
    return said == {True}
