"""The merge told a second time, slowly and from the laws alone, to hold the real one against.

Shares no code with the merge: it walks whole graphs, tries all pairs and keeps nothing. From the rest of
the program it takes entries, the catalogue of kinds, and what a time of an act spans.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from itertools import combinations
from typing import Any
from zoneinfo import ZoneInfo

from herdsync.faults import BadBytes
from herdsync.kinds import CATALOGUE
from herdsync.kinds.on import span
from herdsync.log.entry import Entry, keyed_record_id

UTC = ZoneInfo("UTC")
AUTHORITY = {"found", "admit", "remove", "role", "hand-over", "repair", "adopt", "set-aside"}
KNOWN = {"record", "amend", "retract", "resolve", "same", "different"}
STAY = {"leaving", "death", "arrival", "note", "skip", "postpone"}

Found = tuple[str, str, frozenset[bytes], bool]


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
            need(payload.get("key") == (fields.get(spec.keyed) if spec.keyed else None))
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

    # Disagreements: (kind, field or rule, the records or claims it is among, open).

    def conflicts(self) -> set[Found]:
        found = set(self._within())
        counting = [act for act in self.acts if act.counts()]
        found |= set(self._pairs(counting))
        found |= set(self._ties())
        found |= set(self._animals([act for act in counting if act.kind == "animal"]))
        found |= set(self._after_leaving(counting))
        found |= set(self._pens([act for act in counting if act.kind == "pen-move"]))
        return found

    def _within(self) -> list[Found]:
        found: list[Found] = []
        for act in self.acts:
            for name in act.registers():
                claims = act.standing(name)
                whole = [claim.values for claim in claims]
                sets = any(isinstance(v, dict) for one in whole for v in one.values())
                if not sets and any(one != whole[0] for one in whole):
                    found.append(("field", name, frozenset(c.id for c in claims), True))
                for claim in act.claims:
                    cited = {o.id for o in act.claims if o.register == name and o.id in claim.cites}
                    closes = claim.register == name and claim.verb == "resolve" and claim.vouched
                    if closes and len(cited) > 1:
                        found.append(("field", name, frozenset(cited), False))
            if act.unseen():
                claims = [*act.standing("stands"), *act.unseen()]
                found.append(("retract", "stands", frozenset(c.id for c in claims), True))
        return found

    def _ties(self) -> list[Found]:
        found: list[Found] = []
        for (a, b), told in self.ties.items():
            if not self.one_kind(a, b) or not (self.act(a) or self.act(b)):
                continue
            verdicts = self.verdicts((a, b))
            said = {one.header.verb for one in verdicts}
            together = self.act(a) is not None and self.act(a) is self.act(b)
            if len(said) > 1 or (said == {"different"} and together):
                ids = frozenset([a, b, *(one.id[:16] for one in verdicts)])
                found.append(("pair", "pair", ids, True))
            for one in told:
                if not self._may(one, one.header.verb, False):
                    continue
                cited = [o for o in told if o.id[:16] in one.body.payload["cites"]]
                if len({o.header.verb for o in cited}) > 1:
                    ids = frozenset([a, b, *(o.id[:16] for o in cited)])
                    found.append(("pair", "pair", ids, False))
        return found

    def _pair(self, a: Act, b: Act) -> list[Found]:
        pairs = [tuple(sorted((one, other))) for one in a.ids for other in b.ids]
        for pair in sorted(pair for pair in pairs if pair in self.ties):
            said = [one.header.verb for one in self.verdicts((pair[0], pair[1]))]
            if "same" in said:
                return []
            if said:
                return [("pair", "pair", frozenset([a.id, b.id]), False)]
        return [("pair", "pair", frozenset([a.id, b.id]), True)]

    def _pairs(self, acts: list[Act]) -> list[Found]:
        found: list[Found] = []
        for a, b in combinations(acts, 2):
            spec = CATALOGUE[a.kind]
            if a.kind != b.kind or spec.pair is None or spec.subject is None:
                continue
            told = [
                tuple(self.canonical(act.value(name)) for name in spec.pair.same_fields)
                for act in (a, b)
            ]
            same_one = self.canonical(a.value(spec.subject)) == self.canonical(
                b.value(spec.subject)
            )
            one, other = a.first.entry, b.first.entry
            two = (one.header.device, self._by(one)) != (other.header.device, self._by(other))
            seen = not spec.pair.even_if_seen and not self.unaware(a, b)
            alike = same_one and told[0] == told[1] and None not in told[0]
            if alike and two and not seen and near(spec, a, b):
                found += self._pair(a, b)
        return found

    def _by(self, one: Entry) -> str:
        if one.body.by or one.header.device not in self.roles:
            return one.body.by
        if one.header.device == self.steward:
            return str(next(e for e in self.entries if e.id == self.farm).body.payload["keeper"])
        admits = (e for e in self.entries if e.header.verb == "admit")
        return str(next(
            e.body.payload["keeper"] for e in admits
            if e.header.device == self.steward and e.body.payload["key"] == one.header.device
        ))  # fmt: skip

    def _animals(self, animals: list[Act]) -> list[Found]:
        found: list[Found] = []
        for a, b in combinations(animals, 2):
            if marks(a) & marks(b):
                found.append(("rule", "one mark on two animals", frozenset([a.id, b.id]), True))
            spec = CATALOGUE["animal"].pair
            assert spec is not None
            alike = any(self._alike(a, b, names) for names in spec.any_of)
            if alike and not contradict(a, b) and self.unaware(a, b):
                found += self._pair(a, b)
        parents = {a.id: self._parents(a) for a in animals}
        for child in animals:
            for name, wrong, least in (("dam", "buck", 235), ("sire", "doe", 0)):
                parent = self.act(child.value(name)) if child.value(name) else None
                if parent is None or parent is child:
                    continue
                ids = frozenset([parent.id, child.id])
                if parent.values("sex") == [wrong]:
                    found.append(("rule", f"{name} of the wrong sex", ids, True))
                born, when = parent.value("born"), child.value("born")
                if born and when:
                    gap = span(when, UTC)[1] - span(born, UTC)[0]
                    if gap <= timedelta(days=least):
                        found.append(("rule", f"{name} too young", ids, True))
        return found + [("rule", "pedigree loop", knot, True) for knot in knots(parents)]

    def _alike(self, a: Act, b: Act, names: tuple[str, ...]) -> bool:
        told = [[self.canonical(one.value(name)) for name in names] for one in (a, b)]
        return told[0] == told[1] and not {None, "", "unknown"} & set(told[0])

    def _parents(self, animal: Act) -> set[bytes]:
        told = [self.act(animal.value(name)) for name in ("dam", "sire") if animal.value(name)]
        return {one.id for one in told if one is not None}

    def _after_leaving(self, acts: list[Act]) -> list[Found]:
        found: list[Found] = []
        for gone in acts:
            if gone.kind not in ("leaving", "death") or not self.canonical(gone.value("animal")):
                continue
            left = span(gone.value("on"), UTC)[1]
            mine = [act for act in acts if self._subject(act) == self._subject(gone)]
            back = [span(one.value("on"), UTC)[1] for one in mine if one.kind == "arrival"]
            again = min((one for one in back if one > left), default=None)
            for act in mine:
                time = CATALOGUE[act.kind].on
                if act.kind in STAY or time is None or act.value(time) is None:
                    continue
                when = span(act.value(time), UTC)[0]
                if when > left and (again is None or when < again):
                    ids = frozenset([gone.id, act.id])
                    found.append(("rule", "act after leaving", ids, True))
        return found

    def _subject(self, act: Act) -> Any:
        name = CATALOGUE[act.kind].subject
        return self.canonical(act.value(name)) if name else None

    def _pens(self, moves: list[Act]) -> list[Found]:
        return [
            ("rule", "two pens at one time", frozenset([a.id, b.id]), True)
            for a, b in combinations(moves, 2)
            if self._subject(a) == self._subject(b)
            and a.value("on")[:10] == b.value("on")[:10]
            and self.canonical(a.value("pen")) != self.canonical(b.value("pen"))
            and self.unaware(a, b)
        ]


def need(holds: bool) -> None:
    if not holds:
        raise Odd


def is_id(value: object, size: int = 16) -> bool:
    return isinstance(value, bytes) and len(value) == size


def ids(value: object) -> bool:
    return isinstance(value, list) and all(is_id(one) for one in value)


def told_well(told: object) -> bool:
    return isinstance(told, list) and len(told) == 2 and isinstance(told[0], dict) and ids(told[1])


def near(spec: Any, a: Act, b: Act) -> bool:
    rule = spec.pair
    if spec.on is None or (rule.within_hours is None and not rule.or_same_date):
        return True
    times = [act.value(spec.on) for act in (a, b)]
    if None in times:
        return False
    spans = sorted(span(one, UTC) for one in times)
    gap = max(0.0, (spans[1][0] - spans[0][1]).total_seconds() / 3600)
    soon = rule.within_hours is not None and gap <= rule.within_hours
    return soon or (rule.or_same_date and times[0][:10] == times[1][:10])


def folded(mark: str) -> str:
    text = mark.upper().replace(" ", "")
    digits = text[len(text.rstrip("0123456789")) :]
    letters = text[: len(text) - len(digits)]
    return letters + (digits.lstrip("0") or digits) if letters else text


def marks(animal: Act) -> set[tuple[str, ...]]:
    found = {
        (name, folded(told))
        for name in ("tag", "chip", "tattoo_tail")
        for told in animal.values(name)
    }
    for left in animal.values("tattoo_left"):
        for right in animal.values("tattoo_right") or [""]:
            found.add(("tattoo", folded(right), folded(left)))
    return {one for one in found if one[-1]}


def contradict(a: Act, b: Act) -> bool:
    for name in ("name", "sex"):
        told = {str(one.value(name)).casefold() for one in (a, b)}
        if len(told) > 1 and not told & {"none", "", "unknown"}:
            return True
    return False


def knots(parents: dict[bytes, set[bytes]]) -> set[frozenset[bytes]]:
    """Sets of animals each of whom is an ancestor of all of them, by closing over descent."""
    above = {id: set(parents[id]) for id in parents}
    for _ in parents:
        for id in parents:
            above[id] |= {more for one in list(above[id]) for more in above.get(one, set())}
    looped = [id for id in parents if id in above[id]]
    return {frozenset(o for o in looped if o in above[id] and id in above[o]) for id in looped}
