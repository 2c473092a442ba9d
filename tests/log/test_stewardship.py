"""Who is steward and who is in the farm: every pair and triple of racing acts of four devices.

The model of who had seen what is a plain graph here, apart from the program's own.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest

from herdsync.log.entry import (
    AUTHORITY,
    CRITICAL,
    NO_ID,
    Entry,
    Header,
    body_hash,
    build,
    encode_body,
)
from herdsync.log.signing import SigningKey
from herdsync.log.stewardship import members_of
from herdsync.log.trust import (
    ADMIT,
    ADOPT,
    FOUND,
    HAND_OVER,
    MEMBERSHIP,
    REMOVE,
    ROLE,
    SET_ASIDE,
    Members,
    Standing,
    alone,
    judged_anew,
)
from tests.log.plain import key_of, unsigned

NAMES = ("house", "barn", "shed", "mill")
KEYS = {name: key_of(name) for name in (*NAMES, "recovery", "late")}
NAME_OF = {key.public: name for name, key in KEYS.items()}


@dataclass
class Story:
    """Entries with who had seen what: an entry had seen its parents and all that they had."""

    entries: list[Entry] = field(default_factory=list)
    seen: dict[bytes, set[bytes]] = field(default_factory=dict)
    tips: dict[str, Entry] = field(default_factory=dict)
    farm: bytes = NO_ID

    def saw(self, later: bytes, earlier: bytes) -> bool:
        return earlier in self.seen[later]

    def write(
        self,
        name: str,
        verb: str,
        payload: dict[str, Any],
        parents: list[Entry],
        kind: str = MEMBERSHIP,
    ) -> Entry:
        own = self.tips.get(name)
        known = [*parents, *([own] if own else [])]
        body = encode_body(bytes(16), "", None, payload)
        flags = AUTHORITY | CRITICAL if kind == MEMBERSHIP else 0
        header = Header(
            0, self.farm, KEYS[name].public, own.header.sequence + 1 if own else 0,
            own.id if own else NO_ID, sorted(one.id for one in parents),
            1 + max((one.header.height for one in known), default=-1), len(self.entries),
            verb, kind, 1, flags, [], body_hash(body), len(body),
        )  # fmt: skip
        entry = build(header, body, unsigned)
        self.entries.append(entry)
        claims = {one.id[:16] for one in known}
        self.seen[entry.id[:16]] = {entry.id[:16]}.union(*(self.seen[one] for one in claims))
        self.tips[name] = entry
        return entry

    def members(self) -> Members:
        found = members_of(self.entries, self.saw)
        assert found is not None
        return found


def admitting(name: str, role: str = "keeper") -> dict[str, Any]:
    key: SigningKey = KEYS[name]
    return {
        "key": key.public, "seal": key.seal_public, "keeper": name.title(), "device": name,
        "role": role, "request": b"", "proof": bytes(64),
    }  # fmt: skip


def begun() -> Story:
    """A farm of four devices; everyone has seen everyone's first entry."""
    story = Story()
    recovery = KEYS["recovery"]
    told = {
        "farm": "Quillmoor Dairy", "keeper": "Oda", "device": "house",
        "seal": KEYS["house"].seal_public, "recovery": recovery.public,
        "recovery_seal": recovery.seal_public,
    }  # fmt: skip
    founding = story.write("house", FOUND, told, [])
    story.farm = founding.id
    for name in NAMES[1:]:
        story.write("house", ADMIT, admitting(name), [])
    return story


def key(name: str) -> bytes:
    return KEYS[name].public


# Stands for the newest entry everyone has seen when the race begins.
BASE = "base"

ACTS: list[tuple[str, str, dict[str, Any]]] = [
    ("house", ADMIT, admitting("late")),
    ("house", REMOVE, {"key": key("barn"), "last": []}),
    ("house", ROLE, {"key": key("barn"), "role": "reader"}),
    ("house", HAND_OVER, {"key": key("barn")}),
    ("house", HAND_OVER, {"key": key("shed")}),
    ("barn", ADMIT, admitting("late")),
    ("barn", REMOVE, {"key": key("house"), "last": []}),
    ("barn", HAND_OVER, {"key": key("shed")}),
    ("shed", REMOVE, {"key": key("barn"), "last": []}),
    ("recovery", REMOVE, {"key": key("house"), "last": BASE}),
    ("recovery", REMOVE, {"key": key("barn"), "last": BASE}),
    ("recovery", HAND_OVER, {"key": key("barn")}),
    ("recovery", HAND_OVER, {"key": key("mill")}),
    ("recovery", ROLE, {"key": key("house"), "role": "helper"}),
]


BEGUN = begun()


def fresh() -> Story:
    """The common start of every race."""
    return Story(BEGUN.entries[:], dict(BEGUN.seen), dict(BEGUN.tips), BEGUN.farm)


def races(count: int) -> Iterator[tuple[Story, tuple[int, ...]]]:
    """Every choice of acts, each written without having seen the others, or after all before it."""
    for chosen in itertools.product(range(len(ACTS)), repeat=count):
        for seen in itertools.product((False, True), repeat=count - 1):
            story = fresh()
            base = story.tips["house"]
            for place, number in enumerate(chosen):
                name, verb, told = ACTS[number]
                payload = told | ({"last": [base.id[:16]]} if told.get("last") == BASE else {})
                after = place > 0 and seen[place - 1]
                known = [one for other, one in story.tips.items() if other != name]
                parents = known if after else [base] if name != "house" else []
                if not after:
                    # A fork where the writer's own tip is later than the common start.
                    story.tips.pop(name, None)
                    if name == "house":
                        story.tips[name] = base
                story.write(name, verb, payload, parents)
            yield story, chosen


def check(story: Story, chosen: tuple[int, ...]) -> None:
    members = story.members()
    shuffled = story.entries[:]
    random.Random(str(chosen)).shuffle(shuffled)
    assert members_of([*shuffled, *shuffled[:3]], story.saw) == members
    assert members.steward == members.recovery or members.steward in members.by_key
    by_recovery = {
        entry.body.payload["key"]
        for entry in story.entries
        if NAME_OF[entry.header.device] == "recovery" and entry.header.verb == REMOVE
    }
    assert by_recovery <= set(members.removed)
    if key("house") in members.removed and key("house") not in by_recovery:
        # Only a later steward can have put the founder out, and then it was made steward.
        assert any(entry.header.verb == HAND_OVER for entry in story.entries)
    acted = {NAME_OF[story.entries[place].header.device] for place in range(4, len(story.entries))}
    if not acted & {"house", "recovery"}:
        assert members == BEGUN.members()


def test_every_pair_of_racing_acts() -> None:
    for story, chosen in races(2):
        check(story, chosen)


def test_every_triple_of_racing_acts() -> None:
    for story, chosen in races(3):
        check(story, chosen)


def test_a_steward_hands_over_and_admits_no_more() -> None:
    story = begun()
    handed = story.write("house", HAND_OVER, {"key": key("barn")}, [])
    story.write("house", REMOVE, {"key": key("shed"), "last": []}, [])
    story.write("barn", ADMIT, admitting("late"), [handed])
    members = story.members()
    assert members.steward == key("barn")
    assert members.removed == {}
    assert key("late") in members.by_key


def test_a_new_steward_acts_only_from_where_it_had_seen_that_it_is() -> None:
    story = begun()
    base = story.tips["house"]
    story.write("barn", ADMIT, admitting("late"), [base])
    story.write("house", HAND_OVER, {"key": key("barn")}, [])
    assert key("late") not in story.members().by_key


def test_a_thiefs_removals_fall_with_the_thief() -> None:
    story = begun()
    base = story.tips["house"]
    story.write("house", REMOVE, {"key": key("barn"), "last": []}, [])
    story.write("recovery", REMOVE, {"key": key("house"), "last": [base.id[:16]]}, [base])
    members = story.members()
    assert key("barn") in members.by_key
    assert key("house") in members.removed
    assert members.steward == members.recovery


def test_the_recovery_key_hands_over_and_later_acts_of_the_old_steward_do_not_count() -> None:
    story = begun()
    base = story.tips["house"]
    story.write("recovery", HAND_OVER, {"key": key("barn")}, [base])
    story.write("house", REMOVE, {"key": key("barn"), "last": []}, [])
    members = story.members()
    assert members.steward == key("barn")
    assert members.removed == {}


def test_what_a_removed_device_wrote_before_counts_and_later_waits_for_a_word() -> None:
    story = begun()
    base = story.tips["house"]
    before = story.write("barn", "record", {"fields": {}}, [base], kind="note")
    story.write("house", REMOVE, {"key": key("barn"), "last": [before.id[:16]]}, [before])
    after = story.write("barn", "record", {"fields": {}}, [], kind="note")
    members = story.members()
    assert members.standing(before, own=True) is Standing.VOUCHED
    assert members.standing(after, own=True) is Standing.UNVOUCHED
    adopted = story.write("shed", ADOPT, {"entries": [after.id[:16]]}, [after, base])
    assert story.members().standing(after, own=True) is Standing.VOUCHED
    story.write("mill", SET_ASIDE, {"entries": [after.id[:16]]}, [after, base])
    assert story.members().standing(after, own=True) is Standing.UNVOUCHED
    story.write("mill", SET_ASIDE, {"entries": [after.id[:16]]}, [adopted])
    assert story.members().standing(after, own=True) is Standing.ASIDE


@pytest.mark.parametrize("role", ["helper", "reader"])
def test_another_role_holds_for_what_the_steward_had_not_seen(role: str) -> None:
    story = begun()
    base = story.tips["house"]
    before = story.write("barn", "resolve", {}, [base], kind="note")
    story.write("house", ROLE, {"key": key("barn"), "role": role}, [before])
    after = story.write("barn", "resolve", {}, [], kind="note")
    members = story.members()
    assert members.standing(before, own=False) is Standing.VOUCHED
    assert members.standing(after, own=False) is Standing.UNVOUCHED
    assert members.by_key[key("barn")].role == role
    story.write("barn", ADOPT, {"entries": [after.id[:16]]}, [])
    assert story.members().standing(after, own=False) is Standing.UNVOUCHED


def test_whose_word_counts_whatever_it_is() -> None:
    """Of a device that is neither out nor of another role since: what its role covers for good."""
    story = begun()
    base = story.tips["house"]
    story.write("house", ADMIT, admitting("late", "helper"), [])
    for name, verb, counts in (
        ("house", "resolve", True),
        ("barn", "resolve", True),
        ("late", "record", True),
        # A helper amends only what it began itself, and that is not asked here.
        ("late", "amend", False),
        ("recovery", "record", False),
    ):
        assert story.members().vouches(KEYS[name].public, verb) is counts, name
    before = story.write("barn", "record", {"fields": {}}, [base], kind="note")
    story.write("house", REMOVE, {"key": key("barn"), "last": [before.id[:16]]}, [before])
    story.write("house", ROLE, {"key": key("shed"), "role": "keeper"}, [])
    members = story.members()
    assert [members.vouches(key(name), "record") for name in ("barn", "shed", "mill")] == [
        False,
        False,
        True,
    ]


def test_which_devices_are_to_be_judged_again() -> None:
    story = begun()
    base, first = story.tips["house"], story.members()
    assert judged_anew(None, first) == {key(name) for name in NAMES}
    assert judged_anew(first, first) == set()
    story.write("house", ADMIT, admitting("late", "helper"), [])
    second = story.members()
    assert judged_anew(first, second) == {key("late")}
    story.write("house", ROLE, {"key": key("shed"), "role": "reader"}, [])
    third = story.members()
    assert judged_anew(second, third) == {key("shed")}
    story.write("house", REMOVE, {"key": key("barn"), "last": []}, [])
    fourth = story.members()
    assert judged_anew(third, fourth) == {key("barn")}
    written = story.write("barn", "record", {"fields": {}}, [], kind="note")
    assert judged_anew(fourth, story.members()) == set()
    story.write("mill", ADOPT, {"entries": [written.id[:16]]}, [written, base])
    everyone = {key(name) for name in (*NAMES, "late")}
    assert judged_anew(fourth, story.members()) == everyone


def test_a_founding_is_weighed_without_knowing_who_saw_what() -> None:
    story = begun()
    assert alone(b"a" * 16, b"a" * 16) and not alone(b"a" * 16, b"b" * 16)
    lonely = members_of(story.entries)
    assert lonely is not None
    assert set(lonely.by_key) == {key(name) for name in NAMES}
    assert lonely.sealed_to == story.members().sealed_to


def test_acts_on_devices_they_cannot_be_about_do_nothing() -> None:
    story = begun()
    base = story.tips["house"]
    story.write("house", REMOVE, {"key": key("house"), "last": []}, [])
    story.write("house", REMOVE, {"key": KEYS["late"].public, "last": []}, [])
    story.write("house", HAND_OVER, {"key": KEYS["late"].public}, [])
    assert story.members().steward == key("house")
    story.write("house", ADMIT, admitting("late"), [])
    story.write("house", REMOVE, {"key": key("barn"), "last": []}, [base])
    story.write("house", HAND_OVER, {"key": key("barn")}, [])
    members = story.members()
    assert members.steward == key("house")
    assert set(members.by_key) == {
        *(key(n) for n in ("house", "shed", "mill")),
        KEYS["late"].public,
    }


def test_whom_anyone_named_may_have_been_sealed_to_and_counts_for_nothing() -> None:
    story = begun()
    story.write("barn", ADMIT, admitting("late"), [story.tips["house"]])
    told = story.write("late", "record", {"fields": {}}, [story.tips["barn"]], kind="note")
    members = story.members()
    late = KEYS["late"]
    assert late.public in members.named and late.seal_public in members.sealed_to
    assert late.public not in members.by_key
    assert members.standing(told, own=True) is Standing.UNVOUCHED


def test_a_removal_vouches_for_what_the_last_entry_it_names_had_seen() -> None:
    story = begun()
    first = story.write("barn", "record", {"fields": {}}, [story.tips["house"]], kind="note")
    last = story.write("barn", "record", {"fields": {}}, [], kind="note")
    story.write("house", REMOVE, {"key": key("barn"), "last": [last.id[:16]]}, [last])
    members = story.members()
    assert [members.standing(one, own=True) for one in (first, last)] == [Standing.VOUCHED] * 2


def test_the_words_put_out_whom_they_say_for_good() -> None:
    story = begun()
    base = story.tips["house"]
    story.write("recovery", REMOVE, {"key": key("barn"), "last": []}, [base])
    members = story.members()
    assert key("barn") in members.removed and key("barn") not in members.by_key


def test_what_the_words_vouch_for_overrules_what_the_steward_did() -> None:
    story = begun()
    told = story.write("barn", "record", {"fields": {}}, [story.tips["house"]], kind="note")
    story.write("house", REMOVE, {"key": key("barn"), "last": []}, [told])
    assert story.members().standing(told, own=True) is Standing.UNVOUCHED
    story.write("recovery", REMOVE, {"key": key("barn"), "last": [told.id[:16]]}, [told])
    assert story.members().standing(told, own=True) is Standing.VOUCHED
