"""Chains, forks and causal order, held against a slow model that walks the whole graph."""

from __future__ import annotations

import random
from dataclasses import dataclass, field

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import structs

from herdsync.faults import BadBytes
from herdsync.log.chain import Chain, Chains, Contact, Known, Missing, Settled
from herdsync.log.entry import NO_ID, Entry, build
from herdsync.log.limits import PARENTS
from herdsync.log.writer import Act, Pen, next_entry
from tests.log.plain import FARM, device_of, key_of, unsigned, written

DEVICES = [device_of(name) for name in ("a", "b", "c")]


@dataclass
class Held:
    """Chains with the entries they were built from, as a store would keep them."""

    entries: dict[bytes, Entry] = field(default_factory=dict)
    places: dict[bytes, Known] = field(default_factory=dict)
    contacts: list[Contact] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.chains = Chains(self.places.get)

    def settle(self, entry: Entry) -> Settled | Missing:
        settled = self.chains.settle(entry)
        if isinstance(settled, Settled):
            self.entries[entry.id] = entry
            place = Known(settled.chain.number, entry.header.sequence, entry.header.height)
            self.places[entry.id] = place
            self.contacts += settled.contacts
        return settled

    def settle_all(self, entries: list[Entry]) -> None:
        """Take entries in the order given; what must wait is tried again after every other."""
        waiting = list(entries)
        while waiting:
            left = [one for one in waiting if isinstance(self.settle(one), Missing)]
            assert len(left) < len(waiting), "something always finds its place"
            waiting = left

    def saw(self, later: Entry, earlier: Entry) -> bool:
        return self.chains.saw(self.places[later.id], self.places[earlier.id])


def links(entry: Entry) -> list[bytes]:
    previous = entry.header.previous
    return [*entry.header.parents, *([previous] if previous != NO_ID else [])]


def pasts(entries: list[Entry]) -> dict[bytes, set[bytes]]:
    """The slow model: every entry's whole past, itself included, by walking all links."""
    found: dict[bytes, set[bytes]] = {}
    for entry in entries:
        found[entry.id] = {entry.id}.union(*(found[one] for one in links(entry)))
    return found


@st.composite
def graphs(draw: st.DrawFn) -> list[Entry]:
    """Entries of three devices in causal order: forks of any shape, from the start or a common entry."""
    entries: list[Entry] = []
    for step in range(draw(st.integers(1, 18))):
        device = draw(st.sampled_from(DEVICES))
        own = [one for one in entries if one.header.device == device]
        previous = None
        if own:
            previous = draw(st.sampled_from([own[-1], own[-1], own[-1], *own, None]))
        parents = draw(st.lists(st.sampled_from(entries), max_size=3)) if entries else []
        others = [one for one in parents if one is not previous]
        salt = step.to_bytes(16, "big")
        entries.append(written(device, previous, others, salt=salt))
    return entries


@given(graphs(), st.randoms(use_true_random=False))
def test_who_had_seen_what_whatever_order_it_arrives_in(
    entries: list[Entry], chance: random.Random
) -> None:
    past = pasts(entries)
    shuffled = list(entries)
    chance.shuffle(shuffled)
    for order in (entries, shuffled):
        held = Held()
        held.settle_all(order)
        for later in entries:
            for earlier in entries:
                assert held.saw(later, earlier) == (earlier.id in past[later.id])


@given(graphs())
def test_what_is_stored_of_chains_restores_them(entries: list[Entry]) -> None:
    held = Held()
    held.settle_all(entries)
    again = Held(held.entries, held.places)
    again.chains.restore(
        list(held.chains.all.values()),
        sorted(held.contacts, key=lambda one: (one.chain, one.sequence)),
    )
    assert all(
        again.saw(later, earlier) == held.saw(later, earlier)
        for later in entries
        for earlier in entries
    )
    for number in [None, *held.chains.all]:
        assert again.chains.tips_unseen_by(number) == held.chains.tips_unseen_by(number)


@given(graphs())
def test_what_a_writer_cites_next(entries: list[Entry]) -> None:
    past = pasts(entries)
    held = Held()
    held.settle_all(entries)
    for number in [None, *held.chains.all]:
        seen = past[held.chains.all[number].tip] if number is not None else set()
        unseen = [one for one in past if one not in seen]
        # The newest of what is unseen: nothing else unseen builds on them.
        heads = [one for one in unseen if not any(one in past[more] - {more} for more in unseen)]
        assert held.chains.tips_unseen_by(number) == sorted(heads)


@given(graphs())
def test_heights_extend_causality(entries: list[Entry]) -> None:
    past = pasts(entries)
    ranked = sorted(entries, key=lambda one: one.order)
    for at, entry in enumerate(ranked):
        assert past[entry.id] <= {one.id for one in ranked[: at + 1]}


@given(graphs())
def test_every_fork_is_kept_as_chains_of_their_own(entries: list[Entry]) -> None:
    held = Held()
    held.settle_all(entries)
    for device in DEVICES:
        own = [one for one in entries if one.header.device == device]
        tips = {one.id for one in own} - {one.header.previous for one in own}
        assert {chain.tip for chain in held.chains.of_device(device)} == tips
        assert (device in held.chains.branches()) == (len(tips) > 1)
    counted = sum(chain.tip_sequence - chain.split for chain in held.chains.all.values())
    assert counted == len(entries)


def test_a_fork_from_a_common_entry_and_one_from_the_start() -> None:
    held = Held()
    one = written(DEVICES[0])
    two = written(DEVICES[0], one)
    copied = written(DEVICES[0], one, salt=b"x" * 16)
    anew = written(DEVICES[0], salt=b"y" * 16)
    held.settle_all([one, two, copied, anew])
    assert {(c.parent, c.split, c.tip) for c in held.chains.all.values()} == {
        (None, -1, two.id),
        (1, 0, copied.id),
        (None, -1, anew.id),
    }
    assert held.saw(copied, one)
    assert not held.saw(copied, two)
    assert not held.saw(two, copied)
    assert not held.saw(anew, one)
    # The next entry on one branch cites the others: nothing of a copied log is left aside.
    assert held.chains.tips_unseen_by(1) == sorted([copied.id, anew.id])


def test_what_builds_on_absent_entries_waits_and_names_them() -> None:
    held = Held()
    one = written(DEVICES[0])
    two = written(DEVICES[0], one)
    other = written(DEVICES[1], None, [two])
    assert held.settle(two) == Missing([one.id])
    assert held.settle(other) == Missing([two.id])
    # What came before it of its own is named first.
    both = written(DEVICES[0], one, [other])
    assert held.settle(both) == Missing([one.id, other.id])
    held.settle_all([other, two, one])
    assert held.saw(other, one)


def changed(entry: Entry, **parts: object) -> Entry:
    return build(structs.replace(entry.header, **parts), entry.body_bytes, unsigned)


def test_links_that_contradict_are_refused() -> None:
    held = Held()
    one = written(DEVICES[0])
    two = written(DEVICES[0], one)
    held.settle_all([one, two])
    follows = written(DEVICES[0], two)
    for wrong in (
        changed(follows, sequence=1),
        changed(follows, sequence=3),
        changed(follows, sequence=5),
        changed(follows, previous=one.id),
        changed(follows, device=DEVICES[1]),
        changed(follows, height=9),
        changed(follows, height=3),
        changed(follows, height=1),
        changed(follows, parents=[one.id], height=1),
    ):
        before = {number: chain.tip for number, chain in held.chains.all.items()}
        with pytest.raises(BadBytes):
            held.settle(wrong)
        assert {number: chain.tip for number, chain in held.chains.all.items()} == before
    assert isinstance(held.settle(follows), Settled)


def test_more_heads_than_fit_are_cited_over_several_entries() -> None:
    held = Held()
    others = [written(device_of(f"device {number}")) for number in range(PARENTS + 8)]
    held.settle_all(others)
    key = key_of("writer")
    pen, act = Pen(FARM, key, "", 0), Act("record", "note", {"fields": {}})
    cited: list[int] = []
    own: Chain | None = None
    for place in range(3):
        entry = next_entry(held.chains, own, pen, act, place.to_bytes(16, "big"), None)
        settled = held.settle(entry)
        assert isinstance(settled, Settled)
        own = settled.chain
        cited.append(len(entry.header.parents))
    assert cited == [PARENTS, 8, 0]
    newest = held.entries[own.tip] if own is not None else others[0]
    assert all(held.saw(newest, other) for other in others)


@settings(max_examples=30)
@given(st.lists(st.tuples(st.integers(0, 2), st.booleans()), min_size=1, max_size=25))
def test_what_the_writer_makes_always_settles(steps: list[tuple[int, bool]]) -> None:
    # Three laptops that write and now and then hear of everything: each new entry has seen all it had.
    keys = [key_of(name) for name in ("x", "y", "z")]
    copies = [Held() for _ in keys]
    act = Act("record", "note", {"fields": {}})
    for number, (who, meets) in enumerate(steps):
        held = copies[who]
        if meets:
            every = {id: entry for copy in copies for id, entry in copy.entries.items()}
            fresh = [one for one in every.values() if one.id not in held.entries]
            held.settle_all(sorted(fresh, key=lambda one: one.order))
        own = held.chains.of_device(keys[who].public)
        salt = number.to_bytes(16, "big")
        pen = Pen(FARM, keys[who], "", number)
        entry = next_entry(held.chains, own[0] if own else None, pen, act, salt, None)
        known = list(held.entries.values())
        assert isinstance(held.settle(entry), Settled)
        assert all(held.saw(entry, one) for one in known)


def test_what_was_written_by_hand_is_marked_beside_what_the_act_says() -> None:
    for by_hand, flags, told in ((False, 0, 0), (True, 0, 2), (False, 1, 1), (True, 1, 3)):
        pen = Pen(FARM, key_of("writer"), "Oda", 7, by_hand)
        act = Act("record", "dose", {"fields": {}}, flags=flags)
        entry = next_entry(Held().chains, None, pen, act, bytes(16), None)
        assert (entry.header.flags, entry.header.sequence, entry.header.height) == (told, 0, 0)


def test_the_branches_of_a_copied_log_are_listed_longest_first() -> None:
    held = Held()
    first = written(DEVICES[0])
    one, other = written(DEVICES[0], first), written(DEVICES[0], first, clock=5)
    longer = written(DEVICES[0], other)
    alone = written(DEVICES[1])
    held.settle_all([first, one, other, longer, alone])
    branches = held.chains.branches()
    assert list(branches) == [DEVICES[0]]
    assert {chain.tip for chain in branches[DEVICES[0]]} == {one.id, longer.id}
    assert [chain.tip for chain in held.chains.of_device(DEVICES[0])] == [longer.id, one.id]
    assert [chain.tip for chain in held.chains.of_device(DEVICES[1])] == [alone.id]
    assert held.chains.of_device(DEVICES[2]) == []
    assert held.chains.height_of(longer.id) == 2


def test_only_an_entry_that_begins_a_run_opens_one() -> None:
    held = Held()
    first = written(DEVICES[0])
    second = written(DEVICES[0], first)
    fork = written(DEVICES[0], first, clock=5)
    told = [held.settle(one) for one in (first, second, fork, written(DEVICES[0], fork))]
    assert [isinstance(one, Settled) and one.opened for one in told] == [True, False, True, False]


def test_what_a_writer_had_seen_before_its_log_split_is_inherited() -> None:
    held = Held()
    first, other = written(DEVICES[0]), written(DEVICES[1])
    seen = written(DEVICES[0], first, [other])
    later = written(DEVICES[1], other)
    fork = written(DEVICES[0], seen, clock=5)
    held.settle_all([first, other, seen, later, written(DEVICES[0], seen), fork])
    branch = held.places[fork.id].chain
    assert held.chains.all[branch].parent is not None
    for one, inherited in (
        (first, True),
        (other, True),
        (seen, True),
        (later, False),
        (fork, False),
    ):
        assert held.chains.inherited(branch, held.places[one.id]) is inherited
    root = held.places[first.id].chain
    assert not held.chains.inherited(root, held.places[other.id])
