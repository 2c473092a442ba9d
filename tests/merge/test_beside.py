"""What is left out as lying beside nothing breaks no rule; what lies beside something is kept in."""

from __future__ import annotations

from hypothesis import given

from herdsync.merge.beside import beside_others
from herdsync.merge.lone import Lone
from herdsync.merge.replica import Replica
from herdsync.merge.rules import Rules
from tests.farmyard import Yard
from tests.merge.histories import History, Step, steps
from tests.merge.test_promises import at_length


def parted(replica: Replica) -> tuple[list[Lone], list[Lone]]:
    """The records of one entry that are kept in, and those left out."""
    every = {one.id: one for one in replica.shelf.every_record() if isinstance(one, Lone)}
    kept_in = {one.id for one in beside_others(every, replica.shelf)}
    return [every[id] for id in kept_in], [every[id] for id in every.keys() - kept_in]


def rules_of(replica: Replica) -> Rules:
    return Rules(replica.shelf, replica.saw, lambda _a, _b: None)


@at_length
@given(steps())
def test_what_is_left_out_breaks_no_rule(history: list[Step]) -> None:
    replica = Replica()
    replica.take(History(history).entries)
    rules = rules_of(replica)
    for record in parted(replica)[1]:
        assert list(rules.of(record)) == []


def test_acts_are_kept_in_by_time_writer_and_leaving() -> None:
    yard = Yard()
    agate, opal, gone = (yard.animal(name, sex="doe") for name in ("Agate", "Opal", "Marl"))
    yard.meet("house", "barn")
    beside = {
        yard.write("house", "hoof-trim", animal=agate, on="2026-03-31"),
        yard.write("barn", "hoof-trim", animal=agate, on="2026-04-01"),
        # A month known no closer begins long before the day it may mean.
        yard.write("house", "hoof-trim", animal=opal, on="2026-05"),
        yard.write("barn", "hoof-trim", animal=opal, on="2026-05-30"),
        yard.write("house", "death", animal=gone, on="2026-06-01"),
        yard.write("house", "heat", doe=gone, on="2026-06-03"),
    }
    apart = {
        yard.write("house", "hoof-trim", animal=agate, on="2026-06-10"),
        yard.write("house", "hoof-trim", animal=agate, on="2026-06-11"),
        yard.write("barn", "heat", doe=agate, on="2026-06-10"),
    }
    yard.meet("house", "barn")
    replica = yard.devices["house"].replica
    kept_in, left_out = parted(replica)
    assert {one.id for one in left_out} == apart
    assert beside <= {one.id for one in kept_in}
