"""The shelf in tables answers as the one in memory, however the entries came and whatever is at hand."""

from __future__ import annotations

import itertools
import random
import tempfile
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from herdsync.log.trust import FOUND
from herdsync.merge.replica import Replica
from herdsync.store.checking import check
from herdsync.store.store import Store
from tests.merge.dump import dump
from tests.merge.histories import History, Step, steps
from tests.store.farms import in_order, secret_of


def parts(history: History, chance: random.Random) -> list[int]:
    """Where to cut the entries into what comes at once."""
    size = len(history.entries)
    return sorted({0, size, *(chance.randrange(size) for _ in range(chance.randrange(9)))})


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(history=steps(), chance=st.randoms(use_true_random=False))
def test_both_shelves_answer_alike(history: list[Step], chance: random.Random) -> None:
    told = History(history)
    entries = in_order(told.entries)
    founding = next(entry for entry in entries if entry.header.verb == FOUND)
    replica = Replica()
    with tempfile.TemporaryDirectory() as folder:
        store = Store.create(Path(folder) / "farm", founding, secret_of("house", founding.id))
        cuts = parts(told, chance)
        for first, last in itertools.pairwise(cuts):
            store.take(entries[first:last], "the yard")
            replica.take(entries[first:last])
            with store.reading() as view:
                assert dump(view.shelf) == dump(replica.shelf)
                every = sorted(replica.shelf.every_record(), key=lambda one: one.last.order)
                for most in (1, 2, 5, 1_000_000_000):
                    assert [one.id for one in view.shelf.changed_last(most)] == [
                        one.id for one in every[-most:]
                    ]
                assert check(view).faults == []
        store.close()
