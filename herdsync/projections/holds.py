"""What an animal may not do yet: milk and meat not for sale, not to be bred, not to leave.

Each hold names the records it rests on. An entry that cannot be read makes the all-clear unknown.
Must not know the care plan.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, timedelta

from herdsync.answers import Hold
from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record
from herdsync.projections import moments
from herdsync.projections.breeding import young_to_breed
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.withholding import FIELDS, Held, What, settled, still_held_by
from herdsync.trade.withdrawal import suckling_kid_hold

MILK = "milk not for sale"
MEAT = "meat not for sale"
BREEDING = "not to be bred"
LEAVING = "not to leave"
WORDS = {"milk": MILK, "meat": MEAT, "breeding": BREEDING, "leaving": LEAVING}
_UNREADABLE = (
    "an entry names it that this program cannot read: whether it is clear is unknown; "
    "bring this program up to date"
)


def holds(herd: Herd, goat: Goat, names: Collection[str] = tuple(WORDS)) -> list[Hold]:
    """The holds on an animal at the moment, milk and meat first, one of each name at most."""
    found = []
    for what in FIELDS:
        if what not in names:
            continue
        running = running_holds(herd, goat, what)
        if running:
            found.append(_told(herd, WORDS[what], running))
        elif goat.unreadable:
            found.append(Hold(WORDS[what], "", _UNREADABLE, [], True))
    young = young_to_breed(goat) if "breeding" in names else None
    if young is not None:
        old_enough, why = young
        found.append(Hold(BREEDING, old_enough.isoformat(), why, [text_id(goat.id)]))
    leaving = _not_to_leave(goat) if "leaving" in names else None
    if leaving is not None:
        found.append(leaving)
    return found


def running_holds(herd: Herd, goat: Goat, what: What) -> list[Held]:
    """Every dose that holds an animal's milk or meat at the moment, the longest first."""
    every = list(still_held_by(goat, what))
    if what == "meat":
        every += _through_milk(herd, goat)
    running = [held for held in every if held.holds(herd.look.moment)]
    return sorted(running, key=_longest)


def _longest(held: Held) -> tuple[float, str, tuple[bytes, ...]]:
    at = held.clear.at
    return (-float("inf") if at is None else -at.timestamp(), held.words, held.records)


def _told(herd: Herd, word: str, running: list[Held]) -> Hold:
    longest = running[0]
    records = sorted({text_id(one) for held in running for one in held.records})
    doses = {held.records[0] for held in running}
    others = f"; {len(doses) - 1} more with it" if len(doses) > 1 else ""
    until = longest.clear.at
    return Hold(
        word,
        "" if until is None else moments.text(until, herd.look.zone),
        f"{longest.words}: {longest.clear.reason}{others}",
        records,
        any(held.disputed for held in running),
    )


def _through_milk(herd: Herd, kid: Goat) -> list[Held]:
    """Meat holds a kid takes over from the treated does it sucks."""
    youngest = [moments.last_day(str(told), herd.look.zone) for told in _births(kid)]
    if not youngest or settled(kid.record, "suckles", False):
        return []
    born = max(youngest)
    weaned_by = born + timedelta(days=herd.look.settings.suckling_days)
    found = []
    for field in ("dam", "raised_by"):
        for told in kid.record.safety_values(field):
            doe = herd.goat(told) if isinstance(told, bytes) else None
            if doe is None or doe.id == kid.id:
                continue
            for held in still_held_by(doe, "meat"):
                if held.given <= weaned_by and _drank(held, born, herd):
                    found.append(_taken_over(held, doe))
    return found


def _births(kid: Goat) -> list[object]:
    return kid.record.safety_values("born")


def _drank(held: Held, born: date, herd: Herd) -> bool:
    """Whether the kid was born before the doe was clear."""
    return held.clear.at is None or moments.day_begins(born, herd.look.zone) <= held.clear.at


def _taken_over(held: Held, doe: Goat) -> Held:
    # That it sucks stands in the words already.
    clear = suckling_kid_hold(held.clear)._replace(reason=held.clear.reason)
    words = f"drinks from {doe.name}, who had {held.words}"
    return Held("meat", clear, held.given, (*held.records, doe.id), words, held.disputed)


def _not_to_leave(goat: Goat) -> Hold | None:
    """Why it may not leave, every reason told; without an end where a test leaves none."""
    reasons: list[str] = []
    records: list[str] = []
    until = goat.quarantined_until
    arrived = goat.last("arrival")
    if until is not None and arrived is not None:
        reasons.append(f"kept apart since its arrival {arrived[0].isoformat()}")
        records.append(text_id(arrived[1].id))
    newest: dict[str, Record] = {}
    for _, test in goat.done("disease-test"):
        newest[str(test.value("disease")).casefold()] = test
    tests = {disease: test.value("result", "pending") for disease, test in newest.items()}
    open_tests = sorted(disease for disease, result in tests.items() if result != "negative")
    for disease in open_tests:
        told = newest[disease].value("disease")
        reasons.append(f"the newest test for {told} is {tests[disease]}")
        records.append(text_id(newest[disease].id))
    if not reasons:
        return None
    ends = until.isoformat() if until is not None and not open_tests else ""
    return Hold(LEAVING, ends, "; ".join(reasons), records)
