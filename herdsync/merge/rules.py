"""Disagreements between records: possible same acts, and rules of the trade that were broken.

Nothing here refuses anything: an entry is recorded whatever it breaks, and the break is shown.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import combinations
from typing import Any
from zoneinfo import ZoneInfo

from herdsync.kinds import CATALOGUE
from herdsync.kinds.kind import Kind, PairRule
from herdsync.kinds.on import span
from herdsync.merge import pedigree
from herdsync.merge.conflicts import PAIR, RULE, Conflict, conflict_id
from herdsync.merge.payloads import VERDICT
from herdsync.merge.records import Record, Records, Register

Saw = Callable[[bytes, bytes], bool]
Verdicts = Callable[[Record, Record], Register | None]

# Acts that may follow an animal's leaving: what is said of it, and its coming back.
_AFTER_LEAVING = frozenset({"leaving", "death", "arrival", "note", "skip", "postpone"})
_UTC = ZoneInfo("UTC")


def of_herd(record: Record | None) -> bool:
    """Whether a change of this record may change what holds across the herd."""
    return record is not None and record.kind == "animal"


def about(records: Records, animal: bytes, saw: Saw, verdict: Verdicts) -> Iterator[Conflict]:
    """Possible same acts on one animal, acts after it left, two pens at one time."""
    subject_of: dict[str, list[Record]] = {}
    for record in records.naming(animal):
        kind = CATALOGUE[record.kind]
        told = record.value(kind.subject) if kind.subject else None
        if isinstance(told, bytes) and records.canonical(told) == records.canonical(animal):
            subject_of.setdefault(record.kind, []).append(record)
    for name, acts in sorted(subject_of.items()):
        rule = CATALOGUE[name].pair
        if rule is not None:
            yield from _pairs(CATALOGUE[name], rule, acts, records, saw, verdict)
    yield from _after_leaving(subject_of)
    yield from _two_pens(subject_of.get("pen-move", []), records, saw)


def across_herd(records: Records, verdict: Verdicts, saw: Saw) -> Iterator[Conflict]:
    """One mark on two animals, animals entered twice, impossible parents, pedigree loops."""
    animals = records.of_kind("animal")
    for marks, a, b in pedigree.doubly_marked(animals):
        says = f"Two animals bear one mark: {', '.join(marks)}."
        mend = "Read the marks again and amend the wrong record; both stay flagged until then."
        yield broken("one mark on two animals", [a, b], says, mend)
    kind = CATALOGUE["animal"]
    if kind.pair is not None:
        for a, b in pedigree.perhaps_one(animals, kind.pair, records):
            if not _contradict(a, b) and _unaware(a, b, saw):
                yield from _pair(kind, a, b, verdict)
    for what, members, says in pedigree.impossible(animals, records):
        yield broken(what, members, says, "Amend the birth date, sex, dam or sire that is wrong.")


def broken(rule: str, members: list[Record], says: str, mend: str) -> Conflict:
    """A rule that these records break together."""
    ids = sorted(record.id for record in members)
    claims = sorted((record.first for record in members), key=lambda claim: claim.order)
    kind = members[0].kind
    return Conflict(
        conflict_id(RULE, rule, ids), RULE, kind, rule, ids, claims, says=says, mend=mend
    )


def _pairs(
    kind: Kind, rule: PairRule, acts: list[Record], records: Records, saw: Saw, verdict: Verdicts
) -> Iterator[Conflict]:
    groups: dict[tuple[Any, ...], list[Record]] = {}
    for act in acts:
        told = [act.value(name) for name in rule.same_fields]
        if None not in told:
            groups.setdefault(tuple(_plain(one, records) for one in told), []).append(act)
    for group in groups.values():
        for a, b in _close(kind, rule, group):
            known = not rule.even_if_seen and not _unaware(a, b, saw)
            if _two_writers(a, b) and not known:
                yield from _pair(kind, a, b, verdict)


def _plain(value: Any, records: Records) -> Any:
    return records.canonical(value) if isinstance(value, bytes) else repr(value)


def _close(kind: Kind, rule: PairRule, acts: list[Record]) -> Iterator[tuple[Record, Record]]:
    """Pairs of acts near enough in time, each act compared with those soon after it."""
    if kind.on is None or (rule.within_hours is None and not rule.or_same_date):
        yield from combinations(acts, 2)
        return
    timed = []
    for act in acts:
        told = act.value(kind.on)
        if isinstance(told, str):
            earliest, latest = span(told, _UTC)
            timed.append((earliest, latest, told[:10], act))
    timed.sort(key=lambda one: (one[0], one[3].id))
    for at, (_, latest, day, act) in enumerate(timed):
        for earliest, _, other_day, other in timed[at + 1 :]:
            gap_hours = max(0.0, (earliest - latest).total_seconds() / 3600)
            if _near(rule, gap_hours, day == other_day):
                yield act, other
            elif gap_hours > 24 + (rule.within_hours or 0):
                break


def _near(rule: PairRule, gap_hours: float, same_date: bool) -> bool:
    if rule.within_hours is not None and gap_hours <= rule.within_hours:
        return True
    return rule.or_same_date and same_date


def _pair(kind: Kind, a: Record, b: Record, verdict: Verdicts) -> Iterator[Conflict]:
    """The question whether two records are one, unless a keeper has answered it."""
    said = verdict(a, b)
    standing = said.standing if said is not None else []
    # Verdicts that contradict each other are a disagreement of their own, whatever the rule says.
    if any(claim.values[VERDICT] for claim in standing):
        return
    ids = sorted([a.id, b.id])
    claims = sorted([a.first, b.first], key=lambda claim: claim.order)
    says = f"These may be one and the same: {kind.title.lower()} written twice."
    yield Conflict(
        conflict_id(PAIR, kind.name, ids), PAIR, kind.name, PAIR, ids, claims, says=says,
        mend="Say whether they are the same or different.",
        closed_by=standing[-1].entry if standing else b"",
    )  # fmt: skip


def _two_writers(a: Record, b: Record) -> bool:
    one, other = a.first.author, b.first.author
    return (one.device, one.by) != (other.device, other.by)


def _unaware(a: Record, b: Record, saw: Saw) -> bool:
    """Whether neither writer had seen the other's record when writing."""
    one, other = a.first.entry, b.first.entry
    return not saw(one, other) and not saw(other, one)


def _contradict(a: Record, b: Record) -> bool:
    """Whether two animals bear names or sexes that differ: then nobody wrote one animal twice."""
    for name in ("name", "sex"):
        one, other = a.value(name), b.value(name)
        known = one not in (None, "", "unknown") and other not in (None, "", "unknown")
        if known and str(one).casefold() != str(other).casefold():
            return True
    return False


def _after_leaving(acts: dict[str, list[Record]]) -> Iterator[Conflict]:
    leaving = [*acts.get("leaving", []), *acts.get("death", [])]
    back = [act.value("on") for act in acts.get("arrival", [])]
    for gone in leaving:
        until = gone.value("on")
        if not isinstance(until, str):
            continue
        left = span(until, _UTC)[1]
        # Of a day known no closer, an act may fall after the coming back on it.
        returned = [span(on, _UTC) for on in back if isinstance(on, str)]
        again = min((earliest for earliest, latest in returned if latest > left), default=None)
        for name, members in sorted(acts.items()):
            time_field = CATALOGUE[name].on
            if name in _AFTER_LEAVING or time_field is None:
                continue
            for act in members:
                told = act.value(time_field)
                earliest = span(told, _UTC)[0] if isinstance(told, str) else None
                if earliest and earliest > left and (again is None or earliest < again):
                    says = f"{CATALOGUE[name].title} is dated after the animal had gone."
                    yield broken("act after leaving", [gone, act], says, "Amend the date of one.")


def _two_pens(moves: Iterable[Record], records: Records, saw: Saw) -> Iterator[Conflict]:
    """Two moves of one animal at one time to two pens, by writers who had not seen each other."""
    by_time: dict[str, list[Record]] = {}
    for move in moves:
        by_time.setdefault(str(move.value("on"))[:10], []).append(move)
    for _, together in sorted(by_time.items()):
        for a, b in combinations(together, 2):
            pens = {_plain(one.value("pen"), records) for one in (a, b)}
            if len(pens) > 1 and _unaware(a, b, saw):
                says = "The animal was moved to two pens on one day."
                yield broken("two pens at one time", [a, b], says, "Retract the move that was not.")
