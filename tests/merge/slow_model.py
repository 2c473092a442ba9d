"""The merge told a second time, slowly and from the laws alone, to hold the real one against.

Shares no code with the merge: it walks whole graphs, tries all pairs and keeps nothing. From the rest of
the program it takes entries, the catalogue of kinds, and what a time of an act spans.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from herdsync.faults import BadBytes
from herdsync.kinds import CATALOGUE
from herdsync.log.entry import Entry, keyed_record_id

AUTHORITY = {"found", "admit", "remove", "role", "hand-over", "repair", "adopt", "set-aside"}
KNOWN = {"record", "amend", "retract", "resolve", "same", "different"}


class Odd(Exception):
    """An entry that says nothing this model understands."""


@dataclass
class Claim:
    entry: Entry
    register: str
    values: dict[str, Any]
    cites: list[bytes]
    verb: str
    because: str
    vouched: bool
    saw: list[bytes]

    @property
    def id(self) -> bytes:
        return self.entry.id[:16]


@dataclass
class Act:
    """One record after joining: all claims on it."""

    ids: list[bytes]
    kind: str
    claims: list[Claim]
    first: Claim = field(init=False)

    def __post_init__(self) -> None:
        self.claims.sort(key=lambda claim: claim.entry.order)
        self.first = self.claims[0]

    @property
    def id(self) -> bytes:
        return self.ids[0]

    def registers(self) -> set[str]:
        return {claim.register for claim in self.claims}

    def standing(self, register: str) -> list[Claim]:
        mine = [one for one in self.claims if one.register == register and one.vouched]
        return [one for one in mine if not any(one.id in other.cites for other in mine)]

    def values(self, name: str) -> list[Any]:
        told: list[Any] = []
        for claim in self.standing(self.register_of(name)):
            if name in claim.values and claim.values[name] not in told:
                told.append(claim.values[name])
        return told

    def register_of(self, name: str) -> str:
        spec = CATALOGUE[self.kind].fields.get(name)
        return spec.register if spec else name

    def value(self, name: str) -> Any:
        told = self.values(name)
        spec = CATALOGUE[self.kind].fields.get(name)
        if spec and spec.strict and len(told) > 1:
            return spec.strictest(told)
        return told[-1] if told else None

    def unseen(self) -> list[Claim]:
        """What stands beside a retraction that had not seen it."""
        said = self.standing("stands")
        if not said or any(claim.values["stands"] for claim in said):
            return []
        seen = {one for claim in said for one in claim.saw}
        rest = [c for name in self.registers() - {"stands"} for c in self.standing(name)]
        return [claim for claim in rest if claim.id not in seen]

    def counts(self) -> bool:
        stands = any(claim.values["stands"] for claim in self.standing("stands"))
        return stands or bool(self.unseen())

    def kept_for_safety(self, register: str) -> set[bytes]:
        """Ids of claims on a register that count for safety."""
        mine = [one for one in self.claims if one.register == register]
        vouched = [one for one in mine if one.vouched]

        def under(claim: Claim) -> set[bytes]:
            below = {claim.id}
            while True:
                more = {id for one in vouched if one.id in below for id in one.cites}
                more &= {one.id for one in vouched}
                if more <= below:
                    return below
                below |= more

        gone: set[bytes] = set()
        for claim in vouched:
            reason = claim.because.strip() != "" or claim.verb == "resolve"
            if reason and all(o.id in under(claim) or claim.id in under(o) for o in vouched):
                gone |= under(claim) - {claim.id}
        ended = {one.id for one in vouched} - {one.id for one in self.standing(register)}
        return {one.id for one in mine} - (gone & ended)


class Model:
    """What a set of entries means."""

    def __init__(self, entries: list[Entry]) -> None:
        self.entries = sorted(entries, key=lambda one: one.order)
        self.by_id = {one.id: one for one in entries}
        self.odd: set[bytes] = set()
        self._find_members()
        self._sort_out()
        self.acts = self._join()

    def _find_members(self) -> None:
        founding = next(one for one in self.entries if one.header.farm == bytes(32))
        self.farm, self.steward = founding.id, founding.header.device
        self.roles = {self.steward: "keeper"}
        for one in self.entries:
            if one.header.verb == "admit" and one.header.device == self.steward:
                self.roles.setdefault(one.body.payload["key"], one.body.payload["role"])

    def _sort_out(self) -> None:
        self.about: dict[bytes, list[Entry]] = {}
        self.ties: dict[tuple[bytes, bytes], list[Entry]] = {}
        self.accepted: set[bytes] = set()
        for one in self.entries:
            verb, payload = one.header.verb, one.body.payload
            if verb in AUTHORITY:
                continue
            try:
                self._sort(one, verb, payload)
            except Odd:
                self.odd.add(one.id)

    def _sort(self, one: Entry, verb: str, payload: dict[str, Any]) -> None:
        if verb == "record":
            need(isinstance(payload.get("fields"), dict))
            key = payload.get("key")
            need(key is None or isinstance(key, str))
            keyed = keyed_record_id(self.farm, one.header.kind, key) if key is not None else b""
            self.about.setdefault(keyed or one.id[:16], []).append(one)
        elif verb in ("same", "different"):
            need(is_id(payload.get("a")) and is_id(payload.get("b")))
            need(ids(payload.get("cites")))
            pair = tuple(sorted((payload["a"], payload["b"])))
            self.ties.setdefault((pair[0], pair[1]), []).append(one)
        elif verb == "resolve" and "of" not in payload:
            need(is_id(payload.get("conflict"), 32) and isinstance(payload.get("because"), str))
            if self.roles.get(one.header.device) == "keeper":
                self.accepted.add(payload["conflict"])
        else:
            need(verb in KNOWN and is_id(payload.get("of")))
            need(isinstance(payload.get("claims"), dict))
            need(all(told_well(told) for told in payload["claims"].values()))
            self.about.setdefault(payload["of"], []).append(one)

    def _raw(self, id: bytes) -> tuple[str, list[Claim]]:
        entries = self.about.get(id, [])
        begun = [one for one in entries if one.header.verb == "record"]
        kind = begun[0].header.kind if begun else ""
        writers = {one.header.device for one in begun}
        claims: list[Claim] = []
        for one in entries:
            try:
                need(kind != "" and one.header.kind == kind and kind in CATALOGUE)
                need(one.header.kind_version <= CATALOGUE[kind].version)
                claims += self._claims(one, kind, writers)
            except (Odd, BadBytes):
                self.odd.add(one.id)
        return kind, claims

    def _claims(self, one: Entry, kind: str, writers: set[bytes]) -> list[Claim]:
        payload, verb, spec = one.body.payload, one.header.verb, CATALOGUE[kind]
        own = writers == {one.header.device}
        vouched = self._may(one, verb, own)
        if verb == "record":
            fields = payload["fields"]
            need("stands" not in fields)
            key = payload.get("key")
            if spec.keyed or key is None:
                need(key == (fields.get(spec.keyed) if spec.keyed else None))
            else:
                need(is_line(key))
            needed = [f.name for f in spec.fields.values() if f.required and not spec.keyed]
            need(all(name in fields for name in needed))
            told: dict[str, Any] = {"stands": [{"stands": True}, []]}
            for name, value in fields.items():
                form = spec.fields.get(name)
                if form is not None:
                    form.check(value)
                if form is not None and form.many:
                    value = {"add": value, "drop": []}
                told.setdefault(form.register if form else name, [{}, []])[0][name] = value
        else:
            told = payload["claims"]
            for register, (values, _) in told.items():
                self._check(spec, register, values)
        because, saw = payload.get("because", ""), payload.get("saw", [])
        if verb == "record":
            because, saw = "", []
        return [
            Claim(one, name, values, cites, verb, because, vouched, saw if name == "stands" else [])
            for name, (values, cites) in told.items()
        ]

    def _check(self, spec: Any, register: str, values: dict[str, Any]) -> None:
        if register == "stands":
            need(list(values) == ["stands"] and isinstance(values["stands"], bool))
            return
        need(spec.keyed not in values)
        for name, value in values.items():
            form = spec.fields.get(name)
            need((form.register if form else name) == register)
            if form is not None and form.many:
                need(isinstance(value, dict) and set(value) == {"add", "drop"})
                need(isinstance(value["add"], list) and isinstance(value["drop"], list))
                for drop in value["drop"]:
                    need(isinstance(drop, list) and len(drop) == 2 and isinstance(drop[1], list))
                    need(all(isinstance(one, bytes) for one in drop[1]))
                form.check([*value["add"], *(drop[0] for drop in value["drop"])])
            elif form is not None:
                form.check(value)

    def _may(self, one: Entry, verb: str, own: bool) -> bool:
        role = self.roles.get(one.header.device)
        if role == "helper":
            return verb == "record" or (own and verb in ("amend", "retract"))
        return role == "keeper"

    def verdicts(self, pair: tuple[bytes, bytes]) -> list[Entry]:
        """The words that stand on whether two records are one."""
        told = [one for one in self.ties.get(pair, []) if self._may(one, one.header.verb, False)]
        cited = {id for one in told for id in one.body.payload["cites"]}
        return [one for one in told if one.id[:16] not in cited]

    def begun_as(self, id: bytes) -> set[str]:
        return {one.header.kind for one in self.about.get(id, []) if one.header.verb == "record"}

    def one_kind(self, a: bytes, b: bytes) -> bool:
        return bool(self.begun_as(a)) and self.begun_as(a) == self.begun_as(b)

    def _join(self) -> list[Act]:
        group = {id: {id} for id in self.about}
        for a, b in self.ties:
            said = {one.header.verb for one in self.verdicts((a, b))}
            if said == {"same"} and self.one_kind(a, b):
                both = group[a] | group[b]
                for id in both:
                    group[id] = both
        acts = []
        for members in {frozenset(one) for one in group.values()}:
            raws = {id: self._raw(id) for id in sorted(members)}
            told = {id: raw for id, raw in raws.items() if raw[1]}
            if told:
                kind = next(kind for kind, _ in told.values() if kind)
                acts.append(Act(list(told), kind, [c for _, raw in told.values() for c in raw]))
        return sorted(acts, key=lambda act: act.first.entry.order)

    def act(self, id: bytes) -> Act | None:
        return next((act for act in self.acts if id in act.ids), None)

    def canonical(self, id: Any) -> Any:
        act = self.act(id) if isinstance(id, bytes) else None
        return act.id if act else id

    def saw(self, later: Entry, earlier: Entry) -> bool:
        """Whether the writer of one had seen the other, by walking every link."""
        queue, seen = [later.id], set()
        while queue:
            id = queue.pop()
            if id == earlier.id:
                return True
            if id not in seen and id in self.by_id:
                seen.add(id)
                queue += [*self.by_id[id].header.parents, self.by_id[id].header.previous]
        return False

    def unaware(self, a: Act, b: Act) -> bool:
        one, other = a.first.entry, b.first.entry
        return not self.saw(one, other) and not self.saw(other, one)


def need(holds: bool) -> None:
    if not holds:
        raise Odd


def is_id(value: object, size: int = 16) -> bool:
    return isinstance(value, bytes) and len(value) == size


def is_line(key: str) -> bool:
    """Whether a key is that of an imported line: a hash under a word of its own."""
    word, _, digest = key.partition("/")
    return word == "line" and len(digest) == 64 and set(digest) <= set("0123456789abcdef")


def ids(value: object) -> bool:
    return isinstance(value, list) and all(is_id(one) for one in value)


def told_well(told: object) -> bool:
    return isinstance(told, list) and len(told) == 2 and isinstance(told[0], dict) and ids(told[1])
