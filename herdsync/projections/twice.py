"""Whether what was just written down stands here already by the same laptop: a keeper's own slip.

Two writers' accounts of one act are a possible pair of the merge, which asks about them; one writer is
asked once, in the answer to writing. Must not know screens.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from herdsync.kinds import CATALOGUE
from herdsync.merge.called import keys_for
from herdsync.merge.records import Record
from herdsync.projections import acts
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd

# Acts that are hardly done again within the hours of their kind's pair rule. A milking or a weighing may
# well be, and doses have a word of their own.
_ONCE = frozenset(
    {"kidding", "castration", "disbudding", "hoof-trim", "tattoo", "leaving", "death"}
)


def twice_words(herd: Herd, goat: Goat, record: Record) -> Iterator[str]:
    """A sentence where the act, or the animal, is on record already by whoever wrote it now."""
    others = _namesakes(herd, record) if record.kind == "animal" else _same_acts(goat, record)
    for other in others:
        if other.id == record.id or other.begun_by.device != record.begun_by.device:
            continue
        if record.kind == "animal":
            what = f"Another animal on record is called {goat.name}"
        else:
            day = acts.when_words(other, herd.look.zone)
            what = f"{goat.name} has a {CATALOGUE[record.kind].title} of {day} on record already"
        yield f"{what}: if it is the same one, take this back with 'herdsync undo'."
        return


def _same_acts(goat: Goat, record: Record) -> Iterator[Record]:
    """Acts of the kind on one animal that agree with this one as the kind's pair rule asks."""
    rule = CATALOGUE[record.kind].pair
    at = acts.first_instant(record, goat.look.zone)
    if record.kind not in _ONCE or rule is None or rule.within_hours is None or at is None:
        return
    within = timedelta(hours=rule.within_hours)
    since = (at - within).date() - timedelta(days=1)
    for _, other in goat.past.newest(record.kind, since):
        when = acts.first_instant(other, goat.look.zone)
        agrees = all(other.value(field) == record.value(field) for field in rule.same_fields)
        if agrees and when is not None and abs(when - at) <= within:
            yield other


def _namesakes(herd: Herd, animal: Record) -> Iterator[Record]:
    """Animals on record that go by the same name."""
    name = str(animal.value("name") or "").casefold()
    for other in herd.records.naming(keys_for(name)[0], "animal") if name else ():
        if str(other.value("name") or "").casefold() == name:
            yield other
