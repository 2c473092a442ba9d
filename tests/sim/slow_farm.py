"""Who may write, told a second time, slowly and from the rules alone; the slow merge on top of it.

Shares no code with the weighing it is held against: it walks whole graphs for every question.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from herdsync.log.entry import Entry
from tests.merge.slow_model import Act, need
from tests.merge.slow_rules import Rules

STEWARDS = ("admit", "remove", "role", "hand-over")
ROLES = ("keeper", "helper", "reader")
# Two points of small order (RFC 7748, section 7): y = 0 and y = 1.
WEAK = (bytes(32), b"\1" + bytes(31))


@dataclass
class Seat:
    """One device ever admitted."""

    keeper: str
    device: str
    role: str


class SlowFarm(Rules):
    """What a set of entries means, stewards, removals, roles and keepers' words included."""

    def _find_members(self) -> None:
        founding = next(one for one in self.entries if one.header.farm == bytes(32))
        told = founding.body.payload
        self.farm = founding.id
        self.recovery: bytes = told["recovery"]
        self.seats = {founding.header.device: Seat(told["keeper"], told["device"], "keeper")}
        self.put_out: dict[bytes, list[bytes]] = {}
        self.ranks: dict[bytes, list[tuple[Entry, str]]] = {}
        self._pasts: dict[bytes, set[bytes]] = {}
        above = [one for one in self.entries if one.header.device == self.recovery]
        self.overruled: dict[bytes, list[bytes]] = {}
        for one in above:
            if one.header.verb == "admit":
                self._count(one)
            if one.header.verb == "remove" and sound(one):
                self.overruled.setdefault(one.body.payload["key"], self._last_seen(one))
        steward = self._walk_terms(founding.header.device, above)
        for one in above:
            self._count(one)
        for key, last in self.overruled.items():
            if key in self.seats:
                self.put_out[key] = last
        self.steward = self.recovery if steward in self.put_out else steward
        self._weigh_words()

    def _walk_terms(self, founder: bytes, above: list[Entry]) -> bytes:
        steward, since = founder, None
        for one in [*(one for one in above if one.header.verb == "hand-over" and sound(one)), None]:
            last, _ = self._walk(steward, since, one)
            if one is None:
                return last
            if one.body.payload["key"] in self.seats:
                steward, since = one.body.payload["key"], one
        return steward

    def _walk(self, steward: bytes, since: Entry | None, until: Entry | None) -> tuple[bytes, Any]:
        while True:
            for one in self._acts_in_office(steward, since, until):
                to: Any = one.body.payload.get("key", b"")
                free = sound(one) and to in self.seats and to not in self.put_out and to != steward
                if one.header.verb == "hand-over" and free:
                    steward, since = to, one
                    break
                self._count(one)
            else:
                return steward, since

    def _acts_in_office(
        self, steward: bytes, since: Entry | None, until: Entry | None
    ) -> list[Entry]:
        found = []
        for one in self.entries:
            if one.header.device != steward or one.header.verb not in STEWARDS:
                continue
            late = since is not None and not self.saw(one, since)
            unseen = until is not None and not self.saw(until, one)
            cut = self.overruled.get(steward)
            fallen = cut is not None and not self._reached(one, cut)
            if not (late or unseen or fallen):
                found.append(one)
        return found

    def _reached(self, one: Entry, last: list[bytes]) -> bool:
        """Whether one of these newest entries (by the first half of its id) is it or had seen it."""
        newest = [other for other in self.entries if other.id[:16] in last]
        return any(self.saw(other, one) for other in newest)

    def saw(self, later: Entry, earlier: Entry) -> bool:
        """As the slow model walks, but each whole past only once."""
        if later.id not in self._pasts:
            queue, past = [later.id], set[bytes]()
            while queue:
                id = queue.pop()
                if id not in past and id in self.by_id:
                    past.add(id)
                    queue += [*self.by_id[id].header.parents, self.by_id[id].header.previous]
            self._pasts[later.id] = past
        return earlier.id in self._pasts[later.id]

    def _last_seen(self, one: Entry) -> list[bytes]:
        """What a removal names as the last to be vouched for, as far as its writer had seen it."""
        seen = {id[:16] for id in self._pasts[one.id]} if self.saw(one, one) else set()
        return [claim for claim in one.body.payload["last"] if claim in seen]

    def _count(self, one: Entry) -> None:
        verb, told = one.header.verb, one.body.payload
        if not sound(one):
            return
        key: bytes = told.get("key", b"")
        if verb == "admit" and key != self.recovery:
            self.seats.setdefault(key, Seat(told["keeper"], told["device"], told["role"]))
        elif key not in self.seats or key == one.header.device:
            return
        elif verb == "remove":
            self.put_out.setdefault(key, self._last_seen(one))
        elif verb == "role":
            changes = self.ranks.setdefault(key, [])
            if all(one is not other for other, _ in changes):
                changes.append((one, told["role"]))

    def _covered(self, one: Entry, verb: str, own: bool) -> bool:
        seat = self.seats.get(one.header.device)
        if seat is None:
            return False
        last = self.put_out.get(one.header.device)
        if last is not None and not self._reached(one, last):
            return False
        role = seat.role
        for change, given in self.ranks.get(one.header.device, []):
            if not self.saw(change, one):
                role = given
        if role == "helper":
            return verb == "record" or (own and verb in ("amend", "retract"))
        return role == "keeper"

    def _weigh_words(self) -> None:
        words: dict[bytes, list[Entry]] = {}
        for one in self.entries:
            judges = one.header.verb in ("adopt", "set-aside") and sound(one)
            if judges and self._covered(one, "adopt", False):
                for claim in one.body.payload["entries"]:
                    words.setdefault(claim, []).append(one)
        self.words: dict[bytes, str] = {}
        for claim, said in words.items():
            last = [w for w in said if not any(o is not w and self.saw(o, w) for o in said)]
            if len({one.header.verb for one in last}) == 1:
                self.words[claim] = last[0].header.verb

    def _may(self, one: Entry, verb: str, own: bool) -> bool:
        return self._covered(one, verb, own) or self.words.get(one.id[:16]) == "adopt"

    def _sort(self, one: Entry, verb: str, payload: dict[str, Any]) -> None:
        if verb == "resolve" and "of" not in payload:
            accepted: bytes = payload.get("conflict", b"")
            need(isinstance(accepted, bytes) and len(accepted) == 32)
            need(isinstance(payload.get("because"), str))
            if self._may(one, verb, False):
                self.accepted.add(accepted)
            return
        super()._sort(one, verb, payload)

    def _by(self, one: Entry) -> str:
        seat = self.seats.get(one.header.device)
        return one.body.by or (seat.keeper if seat else "")

    def safety(self, act: Act, register: str) -> set[bytes]:
        """Ids of claims that count for safety; what a keeper set aside does not."""
        aside = {c.id for c in act.claims if not c.vouched and self.words.get(c.id) == "set-aside"}
        return act.kept_for_safety(register) - aside


def sound(one: Entry) -> bool:
    """Whether an entry of authority has the parts it needs; what else it tells does not matter."""
    told = one.body.payload
    if one.header.verb in ("adopt", "set-aside"):
        return _claims(told.get("entries")) and isinstance(told.get("because", ""), str)
    if not _bytes(told.get("key"), 32) or not isinstance(told.get("because", ""), str):
        return False
    if one.header.verb == "remove":
        return _claims(told.get("last"))
    if one.header.verb == "role":
        return told.get("role") in ROLES
    if one.header.verb == "admit":
        names = [told.get("keeper"), told.get("device")]
        named = all(isinstance(name, str) and 1 <= len(name) <= 80 for name in names)
        keys = _bytes(told.get("seal"), 32) and _bytes(told.get("proof"), 64)
        asked = isinstance(told.get("request"), bytes) and told.get("role") in ROLES
        return named and keys and asked and told["key"] not in WEAK
    return True


def _bytes(value: object, size: int) -> bool:
    return isinstance(value, bytes) and len(value) == size


def _claims(value: object) -> bool:
    return isinstance(value, list) and all(_bytes(one, 16) for one in value)
