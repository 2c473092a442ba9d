"""The second half of the slow model: every disagreement there is, by trying all pairs of everything.

One is told as (kind, field or rule, the records or claims it is among, whether it is open).
"""

from __future__ import annotations

from datetime import timedelta
from itertools import combinations
from typing import Any
from zoneinfo import ZoneInfo

from herdsync.kinds import CATALOGUE
from herdsync.kinds.on import span
from herdsync.log.entry import Entry
from tests.merge.slow_model import Act, Model

UTC = ZoneInfo("UTC")
STAY = {"leaving", "death", "arrival", "note", "skip", "postpone"}

Found = tuple[str, str, frozenset[bytes], bool]


class Rules(Model):
    """What a set of entries disagrees about."""

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
            back = [span(one.value("on"), UTC) for one in mine if one.kind == "arrival"]
            again = min((first for first, last in back if last > left), default=None)
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
    return bool(soon or (rule.or_same_date and times[0][:10] == times[1][:10]))


def folded(mark: str) -> str:
    text = mark.upper().replace(" ", "")
    digits = text[len(text.rstrip("0123456789")) :]
    letters = text[: len(text) - len(digits)]
    return letters + (digits.lstrip("0") or digits) if letters else text


def marks(animal: Act) -> set[tuple[str, ...]]:
    found: set[tuple[str, ...]] = {
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
