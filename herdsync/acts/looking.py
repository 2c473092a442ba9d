"""The reading half of the door. Looking never writes; every answer is one consistent look."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import datetime
from zoneinfo import ZoneInfo

from herdsync import answers, reports, sights
from herdsync.acts import finding
from herdsync.acts.door import Door
from herdsync.acts.typed import Index
from herdsync.faults import Refused
from herdsync.kinds import CATALOGUE
from herdsync.kinds.ids import raw_id, text_id
from herdsync.merge.conflicts import Conflict
from herdsync.merge.folding import fold_tie
from herdsync.merge.pedigree import folded
from herdsync.merge.records import Record
from herdsync.projections.conflict_lines import conflict_line
from herdsync.projections.due import Rounds
from herdsync.projections.exposure import exposures
from herdsync.projections.farm_items import plan_in_force
from herdsync.projections.goat import Goat
from herdsync.projections.heads import counted_heads
from herdsync.projections.herd import Herd
from herdsync.projections.herd_lines import herd_line, herd_lines
from herdsync.projections.kept import Kept, Left
from herdsync.projections.kids import kid_boards
from herdsync.projections.milk import milk_lines
from herdsync.projections.pages import animal_answer, record_answer
from herdsync.projections.plan_lines import plan_lines
from herdsync.projections.settings import setting_lines, settings_of
from herdsync.projections.timers import timers
from herdsync.projections.trail import newest_lines, tie_lines, trail
from herdsync.projections.voices import Voices
from herdsync.store import aside
from herdsync.store.view import View

FOUND_MOST = 50
# Work of fewer animals is sooner worked out again than everything is left for the next run.
LEFT_AFTER = 100


class Looking(Door):
    """What the farm knows, at this run's moment."""

    @property
    def name(self) -> str:
        """The farm's name."""
        with self._looking() as (_, shelf):
            return settings_of(shelf).farm_name or self._store.members().farm

    @property
    def keeper(self) -> str:
        """The keeper of this device; empty before it is admitted."""
        member = self._store.members().by_key.get(self._store.device)
        return member.keeper if member is not None else ""

    @property
    def device_name(self) -> str:
        """The name of this device; empty before it is admitted."""
        member = self._store.members().by_key.get(self._store.device)
        return member.device if member is not None else ""

    @property
    def zone(self) -> ZoneInfo:
        """The farm's zone."""
        with self._looking() as (_, shelf):
            return settings_of(shelf).zone

    @property
    def prefix(self) -> str:
        """The herd prefix."""
        with self._looking() as (_, shelf):
            return settings_of(shelf).prefix

    @property
    def read_only(self) -> str:
        """Why this device may not write, as a sentence; empty where it may."""
        if self._known is not None:
            return "You are looking at the farm as it was known earlier."
        return self._store.why_read_only()

    def moment(self) -> datetime:
        """This run's moment in the farm's zone."""
        return self._wall.now().astimezone(self.zone)

    def changed(self) -> bool:
        """True once after the farm's file was changed by anyone, this process's own acts included."""
        version = self._store.version()
        before, self._version = self._version, version
        return before is not None and before != version

    def mark(self) -> tuple[object, int]:
        """Another than before once anyone wrote to the farm's file, or the farm was opened anew."""
        return self._store, self._store.version()

    _version: int | None = None

    @functools.cached_property
    def _kept(self) -> Kept:
        """What looks at due work keep for the next one, begun with what an earlier run left."""

        def recall() -> Left | None:
            with self._looking() as (view, shelf):
                told = aside.left(self._store.folder, view, settings_of(shelf).zone)
            return Left.read(told) if told is not None else None

        return Kept(recall)

    def _leave(self, herd: Herd) -> None:
        """Leave what looks found for the next run, once much of it is new."""
        if self._kept.news >= LEFT_AFTER:
            with self._looking() as (view, _):
                told = self._kept.leave().packed()
                aside.leave(self._store.folder, view, herd.look.zone, told)

    _one: Rounds | None = None
    _clocks: list[answers.Timer] | None = None

    @contextmanager
    def one_look(self) -> Iterator[None]:
        """All that is asked within is told of one look at one moment, and worked out once for it all.

        Nothing may be written within.
        """
        with self._rounds() as rounds:
            self._one, self._held = rounds, True
            try:
                yield
            finally:
                self._one, self._clocks, self._held = None, None, False

    @contextmanager
    def _herd(self) -> Iterator[Herd]:
        if self._one is not None:
            yield self._one.herd
            return
        with self._looking() as (_, shelf):
            yield Herd(shelf, settings_of(shelf), self._wall.now())

    @contextmanager
    def _rounds(self) -> Iterator[Rounds]:
        if self._one is not None:
            yield self._one
            return
        with self._herd() as herd:
            # What earlier looks worked out is of the farm as it is, not as an entry knew it.
            kept = self._kept if self._known is None else None
            yield Rounds(herd, plan_in_force(herd.records, herd.look.settings).plan, kept)

    def due(
        self, *, pen: str = "", animal: str = "", days: int | None = None, every: bool = False
    ) -> list[answers.DueLine]:
        """Due work in the order of a walk; with ``days`` what opens within them, with ``every`` all."""
        with self._rounds() as rounds:
            if animal:
                goat = self._goat(rounds.herd, animal)
                return rounds.of_goat(goat, days=days, everything=every)
            lines = rounds.lines(days=days, everything=every)
            self._leave(rounds.herd)
            if pen:
                record = self._record(pen, "pen")
                name = rounds.herd.look.names.of(record)
                lines = [line for line in lines if line.pen == name]
            return lines

    def timers(self) -> list[answers.Timer]:
        """Everything that is running, the next to end first."""
        if self._clocks is not None:
            return self._clocks
        with self._rounds() as rounds, self._looking() as (view, _):
            found = timers(rounds.herd, rounds.plan, view.doubtful)
        self._clocks = found if self._one is not None else None
        return found

    def herd(self, *, every: bool = False) -> list[answers.HerdLine]:
        """The herd in walk order; with ``every`` also animals gone, away or outside."""
        with self._herd() as herd:
            return herd_lines(herd, everything=every)

    def holds(self, ref: str) -> list[answers.Hold]:
        """What an animal may not do yet."""
        with self._rounds() as rounds:
            return rounds.holds_of(self._goat(rounds.herd, ref))

    def show(self, ref: str) -> answers.RecordAnswer:
        """One record whole; of an animal its work, holds, timers, acts and kids too."""
        with self._rounds() as rounds, self._looking() as (view, _):
            record = self._record(ref)
            goat = rounds.herd.goat(record.id)
            if goat is not None:
                return animal_answer(rounds, goat, self._voices(view))
            return record_answer(record, rounds.herd.look, self._voices(view))

    def find(self, text: str) -> list[answers.Found]:
        """Records with a name, mark or word that holds the text, animals first; at most fifty."""
        wanted, mark = text.strip().casefold(), folded(text)
        if not wanted:
            raise Refused("There is nothing to look for.", "Give a name, a mark or a part of one.")
        with self._herd() as herd:
            found = []
            kinds = ["animal", *(name for name in CATALOGUE if name != "animal")]
            for kind in kinds:
                for record in herd.records.of_kind(kind):
                    matched = _matched(record, wanted, mark)
                    if matched:
                        title = herd.look.names.of(record)
                        found.append(answers.Found(text_id(record.id), kind, title, matched))
                    if len(found) == FOUND_MOST:
                        return found
        return found

    def conflicts(self, *, every: bool = False) -> list[answers.ConflictLine]:
        """Open disagreements, or all of them, closed ones too."""
        with self._herd() as herd, self._looking() as (view, shelf):
            found = [one for one in shelf.every_conflict() if every or one.open]
            voices = self._voices(view)
            return [conflict_line(one, herd.look, self._among(view, voices, one)) for one in found]

    def trail(self, ref: str) -> list[answers.TrailLine]:
        """Every change of a record, oldest first; of an animal, of every record naming it.

        Retracted records are told like any other: what was taken back was still written.
        """
        with self._herd() as herd, self._looking() as (view, shelf):
            record = self._record(ref)
            naming = shelf.ever_naming(record.id) if record.kind == "animal" else []
            voices = self._voices(view)
            lines = trail([record, *naming], herd.look, voices)
            lines += self._ties(view, herd, [record, *naming], voices)
        return sorted(lines, key=lambda line: line.height)

    def _ties(
        self, view: View, herd: Herd, records: list[Record], voices: Voices
    ) -> list[answers.TrailLine]:
        """The words on whether these records are one with others."""
        found: dict[bytes, list[answers.TrailLine]] = {}
        shelf = view.shelf
        every = {tie for record in records for id in record.ids for tie in shelf.ties_of(id)}
        for tie, *pair in sorted(every):
            a, b = (shelf.get(id) for id in pair)
            if a is not None and b is not None:
                verdict = fold_tie(tie, shelf.touching(tie), view.members())
                found[tie] = tie_lines(verdict, a, b, herd.look, voices)
        return [line for lines in found.values() for line in lines]

    def trail_all(self, limit: int = 200) -> list[answers.TrailLine]:
        """The farm's newest changes, newest first."""
        with self._herd() as herd, self._looking() as (view, shelf):
            newest = shelf.changed_last(limit)
            return newest_lines(newest, herd.look, self._voices(view), limit)

    def settings(self) -> list[answers.SettingLine]:
        """Every setting with what counts and its help."""
        with self._looking() as (_, shelf):
            return setting_lines(shelf)

    def plan(self) -> list[answers.PlanLine]:
        """The care plan as it counts on this farm."""
        with self._herd() as herd:
            return plan_lines(plan_in_force(herd.records, herd.look.settings), herd.look)

    def plan_faults(self) -> list[str]:
        """What of the farm's own plan cannot count, as sentences."""
        with self._herd() as herd:
            return list(plan_in_force(herd.records, herd.look.settings).faults)

    def pens(self) -> list[str]:
        """The pens by name in the order of the walk."""
        with self._herd() as herd:
            return [pen.name for pen in herd.pens]

    def names(self, kind: str) -> list[str]:
        """What the records of a kind are called, each once, for completing what a keeper types."""
        return sorted(set(self.called(kind).values()), key=str.casefold)

    def called(self, kind: str) -> dict[str, str]:
        """What the records of a kind are called, by id."""
        with self._herd() as herd:
            names = herd.look.names
            return {text_id(one.id): names.of(one) for one in herd.records.of_kind(kind)}

    def kids(self) -> list[reports.KidBoard]:
        """A board of its windows for each kid of the herd."""
        with self._rounds() as rounds:
            return kid_boards(rounds)

    def exposures(self) -> list[reports.ExposureLine]:
        """Every doe that shared a pen with a male able to sire and may yet kid from it."""
        with self._herd() as herd:
            return exposures(herd)

    def heads(self, *, pen: str = "") -> list[sights.HeadsLine]:
        """Counts of heads, of a pen or all, that do not agree with the records or with each other."""
        with self._herd() as herd:
            name = herd.look.names.of(self._record(pen, "pen")) if pen else ""
            return [line for line in counted_heads(herd) if name in ("", line.pen)]

    def milk(self, days: int = 7) -> list[reports.MilkLine]:
        """Milk of each doe over the last days: produced, sold, held."""
        with self._herd() as herd:
            today = herd.look.today
            first = today.fromordinal(today.toordinal() - days + 1)
            return milk_lines(herd, first, today)

    def animal_line(self, ref: str) -> answers.HerdLine:
        """One animal's line of the herd."""
        with self._herd() as herd:
            return herd_line(herd, self._goat(herd, ref))

    def animal_lines(self, ids: Iterable[str]) -> list[answers.HerdLine]:
        """The lines of some animals, gone ones too; of an id that is no animal's there is none."""
        with self._herd() as herd:
            goats = (herd.goat(raw_id(one)) for one in ids)
            return [herd_line(herd, one) for one in goats if one is not None and one.record.counts]

    def _warnings(self, ids: list[bytes]) -> list[str]:
        """What a keeper should know of records just written."""
        # Half the trade is asked about an act just written; a look alone needs none of it.
        from herdsync.acts.warning import warnings

        with self._rounds() as rounds, self._looking() as (_, shelf):
            return warnings(rounds, shelf, ids)

    def _goat(self, herd: Herd, ref: str) -> Goat:
        goat = herd.goat(self._record(ref, "animal").id)
        assert goat is not None, "an animal that is found is here"
        return goat

    def _record(self, ref: str, kind: str = "") -> Record:
        with self._looking() as (view, shelf):
            index = Index(view)
            index.records = shelf
            return finding.find_record(index, ref, kind)

    def _voices(self, view: View) -> Voices:
        members = view.members().by_key

        def device_name(key: bytes) -> str:
            return members[key].device if key in members else text_id(key)[:8]

        # An entry that changed several fields is checked once for all its lines.
        @functools.cache
        def signature(entry: bytes) -> str:
            return "good" if view.signature_holds(entry) else "bad"

        return Voices(device_name, lambda _: [], signature, functools.cache(view.doubtful))

    def _among(self, view: View, voices: Voices, conflict: Conflict) -> Voices:
        """The same voices, telling for each claim of a conflict which others its writer had seen."""
        ids = [claim.entry for claim in conflict.claims]

        def saw(entry: bytes) -> list[bytes]:
            return [one for one in ids if one != entry and view.saw(entry, one)]

        return Voices(voices.device_name, saw, voices.signature, voices.doubtful)


def _matched(record: Record, wanted: str, mark: str) -> str:
    """The name, mark or text of a record that holds what is looked for; empty where none does."""
    spec = CATALOGUE[record.kind]
    for field in (*spec.names, *spec.marks, "text", "note"):
        for told in record.values(field) if field in spec.fields else ():
            held = wanted in str(told).casefold() or (field in spec.marks and mark in folded(told))
            if held:
                return f"{field}: {told}"
    return ""
