"""The promises of the design, looked at in a world after a step. What does not hold raises Broken."""

from __future__ import annotations

import base64
import random
from collections.abc import Iterable

from herdsync.log import canonical
from herdsync.log.entry import Entry
from herdsync.log.trust import AUTHORITY_VERBS
from herdsync.merge.folding import fold_tie
from herdsync.merge.memory_shelf import MemoryShelf
from herdsync.merge.payloads import DIFFERENT, RESOLVE, SAME, tie_id
from herdsync.merge.replica import Replica
from herdsync.merge.shelf import Shelf
from herdsync.store import keyring
from herdsync.store.view import View
from tests.merge.dump import dump
from tests.merge.slow_model import Act
from tests.merge.test_promises import gives_no_reason
from tests.merge.test_slow_model import expected, found, told
from tests.sim.deeds import ANIMALS
from tests.sim.laptops import Laptop
from tests.sim.slow_farm import SlowFarm
from tests.sim.world import FARM_NAME, Broken, World

PLAIN = [word.encode() for word in (FARM_NAME, *ANIMALS, "Quillsan", "house", "limps")]


class Promises:
    """Looks at laptops after steps; what one set of entries means is worked out once."""

    def __init__(self, world: World, chance: random.Random, *, thorough: bool) -> None:
        self.world = world
        self._chance = chance
        self._thorough = thorough
        self._dumps: dict[frozenset[bytes], dict[str, bytes]] = {}
        self._models: dict[frozenset[bytes], None] = {}
        self._heads: dict[frozenset[bytes], object] = {}

    def look(self) -> None:
        """Every laptop that may have changed, and every carrier."""
        for laptop in self.world.farms():
            self.look_at(laptop)
        self._carriers()

    def look_at(self, laptop: Laptop) -> None:
        """One laptop: nothing lost, nothing altered, nothing forged, all of it in the state."""
        with self.world.at(laptop), laptop.opened()._store.reading() as view:
            rows = view.connection.execute("SELECT id, packed FROM entry").fetchall()
            ids = frozenset(id for id, _ in rows)
            if ids == laptop.held and ids in self._dumps:
                return
            self._need(laptop.held <= ids, "P5: an acknowledged entry is gone", laptop)
            self._unaltered(laptop, view, dict(rows))
            entries = _whole(view)
            self._same_everywhere(laptop, view, ids, entries)
            self._survival(laptop, view, entries)
            self._safety(laptop, view, ids, entries)
            if self._thorough or self._chance.random() < 0.15:
                self.model(laptop, view.shelf, ids, entries)
        laptop.held = ids

    def _need(self, holds: bool, what: str, laptop: Laptop) -> None:
        if not holds:
            raise Broken(f"{what} (laptop {laptop.home.name}, {laptop.name})")

    def _unaltered(self, laptop: Laptop, view: View, rows: dict[bytes, bytes]) -> None:
        """P3, P10, P14: bytes never change, nobody adds what its device did not write, no secret leaks."""
        own = {laptop.farm._store.device if laptop.farm else b"", self.world.recovery}
        for id, packed in rows.items():
            known = self.world.packed.setdefault(id, packed)
            self._need(known == packed, "P3: an entry's bytes changed", laptop)
        for id in rows.keys() - laptop.held - self.world.before:
            if id not in self.world.written_at:
                entry = view.log.full(id)
                assert entry is not None
                self.world.written_at[id] = laptop.home.name
                self._need(entry.header.device in own, "P10: an entry came from nowhere", laptop)
        secret = keyring.secret_of(laptop.farm._store.farm, laptop.farm._store.device)  # type: ignore[union-attr]
        if secret is not None:
            for seed in (secret.sign_seed, secret.seal_seed):
                self.world.secrets |= {seed, base64.b64encode(seed)}

    def _same_everywhere(
        self, laptop: Laptop, view: View, ids: frozenset[bytes], entries: list[Entry]
    ) -> None:
        """P1, P4, P8: a set of entries means one thing, in any order, on any laptop."""
        if ids not in self._dumps:
            self._dumps[ids] = dump(_folded(entries, self._chance))
        here, once = dump(view.shelf), self._dumps[ids]
        differing = [part for part in once if once[part] != here[part]]
        self._need(not differing, f"P1: what is derived differs in {differing}", laptop)
        members = view.members()
        told = (members.steward, members.by_key, members.removed, members.ranked, members.decided)
        self._need(self._heads.setdefault(ids, told) == told, "P8: members differ", laptop)
        governed = members.steward in members.by_key or members.steward == members.recovery
        self._need(governed, "P8: the farm is without a steward", laptop)

    def _survival(self, laptop: Laptop, view: View, entries: list[Entry]) -> None:
        """P2, P6, P13: every entry is in a record, in a verdict, or listed as unreadable."""
        shelf, members = view.shelf, view.members()
        told = {claim.entry for one in shelf.every_record() for claim in one.claims()}
        unread = {one.entry for one in shelf.every_unread()}
        for entry in entries:
            verb, payload = entry.header.verb, entry.body.payload
            if verb in AUTHORITY_VERBS or entry.id in unread or entry.record_id in told:
                continue
            if verb in (SAME, DIFFERENT):
                tie = tie_id(payload["a"], payload["b"])
                claims = {c.entry for c in fold_tie(tie, shelf.touching(tie), members).every()}
                self._need(entry.record_id in claims, "P2: a verdict is gone", laptop)
            elif not (verb == RESOLVE and "of" not in payload):
                self._need(payload.get("claims") == {}, "P2: an entry is nowhere", laptop)

    def _safety(
        self, laptop: Laptop, view: View, ids: frozenset[bytes], entries: list[Entry]
    ) -> None:
        """P7: only an entry that gives its reason, or decides, shortens anything."""
        safe = safe_state(view.shelf)
        news = [entry for entry in entries if entry.id not in laptop.held]
        if laptop.held and all(gives_no_reason(entry) for entry in news):
            self._need(laptop.safe <= safe, "P7: safety shrank without a reason", laptop)
        laptop.safe = safe

    def model(
        self, laptop: Laptop, shelf: Shelf, ids: frozenset[bytes], entries: list[Entry]
    ) -> None:
        """Records, members and conflicts as the slow model tells them."""
        if ids in self._models:
            return
        self._models[ids] = None
        slow = SlowFarm(entries)
        with laptop.opened()._store.reading() as view:
            members = view.members()
        seats = {key: (one.keeper, one.device, one.role) for key, one in members.known.items()}
        theirs = {key: (one.keeper, one.device, one.role) for key, one in slow.seats.items()}
        self._need(seats == theirs, "P8: the slow model knows other devices", laptop)
        self._need(members.steward == slow.steward, "P8: the slow model's steward differs", laptop)
        out = {key: sorted(last) for key, last in members.removed.items()}
        slow_out = {key: sorted(last) for key, last in slow.put_out.items()}
        self._need(out == slow_out, "P8: the slow model removes others", laptop)
        words = {claim: "adopt" if yes else "set-aside" for claim, yes in members.decided.items()}
        self._need(words == slow.words, "P8: the slow model hears other words", laptop)
        self._records(laptop, shelf, slow)

    def _records(self, laptop: Laptop, shelf: Shelf, slow: SlowFarm) -> None:
        records = {record.id: told(record) for record in shelf.every_record()}
        acts = {act.id: _expected(slow, act) for act in slow.acts}
        self._need(records == acts, "the slow model has other records", laptop)
        unread = {one.entry for one in shelf.every_unread()}
        self._need(unread == slow.odd, "the slow model cannot read others", laptop)
        rules = {one.id: one.open for one in shelf.every_conflict() if one.kind == "rule"}
        closed = {id for id, is_open in rules.items() if not is_open}
        self._need(closed == rules.keys() & slow.accepted, "other rules are accepted", laptop)
        told_here = {found(one) for one in shelf.every_conflict()}
        here = {(k, f, who, is_open or k == "rule") for k, f, who, is_open in told_here}
        self._need(here == slow.conflicts(), "the slow model finds other conflicts", laptop)

    def _carriers(self) -> None:
        """P10: what a carrier holds tells nothing to who has no key."""
        for place in self.world.places:
            for name in place.bundles():
                if not name.endswith(".bundle"):
                    continue
                path = place.folder / name
                mark = f"{path}/{path.stat().st_size}/{path.stat().st_mtime_ns}"
                if mark not in self.world.scanned:
                    self.world.scanned.add(mark)
                    raw = path.read_bytes()
                    if any(one in raw for one in [*PLAIN, *self.world.secrets]):
                        raise Broken(f"P10: a carrier reads plain words in {name}")


def safe_state(shelf: Shelf) -> frozenset[tuple[bytes, str, bytes]]:
    """All that counts for safety: per record and field each value, per animal each dose of it."""
    found = set()
    for record in shelf.every_record():
        for id in record.ids:
            for name in record.field_names():
                values = record.safety_values(name)
                found |= {(id, name, canonical.encode(value)) for value in values}
        if record.kind == "animal":
            doses = [*shelf.naming(record.id, "dose"), *shelf.safety_only(record.id, "dose")]
            found |= {(animal, "dose", id) for animal in record.ids for d in doses for id in d.ids}
    return frozenset(found)


def _whole(view: View) -> list[Entry]:
    runs = (
        entry
        for chain in view.log.chains.all.values()
        for entry in view.log.run(chain.number, chain.split + 1, chain.tip_sequence)
    )
    return sorted(runs, key=lambda entry: entry.order)


def _folded(entries: Iterable[Entry], chance: random.Random) -> MemoryShelf:
    """The shelf these entries make when they come in another order, in pieces, some of them twice."""
    founding, *rest = sorted(entries, key=lambda one: one.header.farm != bytes(32))
    chance.shuffle(rest)
    replica = Replica()
    replica.take([founding])
    at = 0
    while at < len(rest):
        size = chance.choice((1, 7, 40))
        replica.take([*rest[at : at + size], *rest[:1]])
        at += size
    return replica.shelf


def _expected(slow: SlowFarm, act: Act) -> dict[str, object]:
    safety = {name: slow.safety(act, name) for name in act.registers()}
    return expected(act) | {"safety": safety}
