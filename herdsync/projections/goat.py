"""One animal as its records tell it at a moment: facts derived, never typed.

Impossible dates, missing parents and disputed claims are ordinary here: every fact has an answer,
and what nobody told is unknown. Must not know the care plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Any, Self

from msgspec import Struct

from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record
from herdsync.projections import acts
from herdsync.projections.look import Look
from herdsync.projections.past import About, Done, Past

GONE = {"death": "dead", "sold": "sold", "given": "given", "culled": "culled"}
MILKED_WITHIN_DAYS = 60


class Facts(Struct, frozen=True, array_like=True):
    """What the herd as a whole asks of every animal at each look."""

    pen: bytes | None
    born: date | None
    name: str
    sex: str
    standing: str
    of_herd: bool


class Goat:
    """One animal; its sheet and its past are read when they are first asked for."""

    def __init__(self, look: Look, record: Record) -> None:
        self._begin(look, record.id)
        self.record = record

    def _begin(self, look: Look, id: bytes) -> None:
        self.look = look
        self.id = id
        # What others have worked out about it within this look, by what it is.
        self.kept: dict[str, Any] = {}

    @classmethod
    def recalled(cls, look: Look, id: bytes, facts: Facts) -> Self:
        """An animal by its record's id, with facts that are known to hold still."""
        goat = cls.__new__(cls)
        goat._begin(look, id)
        goat.pen, goat.born, goat.name = facts.pen, facts.born, facts.name
        goat.sex, goat.standing, goat.of_herd = facts.sex, facts.standing, facts.of_herd
        return goat

    @property
    def facts(self) -> Facts:
        """What a later look may recall it by."""
        return Facts(self.pen, self.born, self.name, self.sex, self.standing, self.of_herd)

    @cached_property
    def record(self) -> Record:
        """Its own sheet."""
        found = self.look.records.get(self.id)
        assert found is not None, "an animal that is recalled is on record"
        return found

    @cached_property
    def past(self) -> Past:
        """What is on record about it."""
        return Past(self.look, self.record)

    @cached_property
    def acts(self) -> Mapping[str, list[Record]]:
        """The standing records about it, by kind."""
        return About(self.past, True)

    @cached_property
    def named_in(self) -> Mapping[str, list[Record]]:
        """The standing records that name it beside what they are about, by kind."""
        return About(self.past, False)

    @cached_property
    def text_id(self) -> str:
        """The text of its id."""
        return text_id(self.id)

    @cached_property
    def name(self) -> str:
        """What it is called."""
        return self.look.names.of(self.record)

    @cached_property
    def sex(self) -> str:
        """Sex as born; ``unknown`` where nobody told."""
        return str(self.record.value("sex", "unknown"))

    @property
    def female(self) -> bool:
        """Whether it is a doe."""
        return self.sex == "doe"

    @property
    def male(self) -> bool:
        """Whether it was born a buck."""
        return self.sex == "buck"

    @cached_property
    def born(self) -> date | None:
        """The day of birth care counts from: the earliest told."""
        return acts.first_day(self.record, self.look.zone, "born")

    @cached_property
    def born_instant(self) -> datetime | None:
        """The earliest instant of birth told."""
        return acts.first_instant(self.record, self.look.zone, "born")

    @cached_property
    def born_words(self) -> str:
        """Its birth for a sentence: the day care counts from, and who differs about it."""
        return f"born {acts.when_words(self.record, self.look.zone, 'born')}"

    @cached_property
    def age_days(self) -> int | None:
        """Whole days of age at the moment; None where unknown or not born yet."""
        if self.born is None or self.born > self.look.today:
            return None
        return (self.look.today - self.born).days

    def told(self, field: str) -> Any:
        """The provisional value of a field of its own sheet, or None."""
        return self.record.value(field)

    def done(self, kind: str) -> list[Done]:
        """Acts of a kind about it up to today, with the day each counts from, oldest first."""
        return self.past.done(kind)

    def last(self, kind: str) -> Done | None:
        """The latest act of a kind up to today."""
        return self.past.last(kind)

    @cached_property
    def castrated(self) -> Record | None:
        """The first castration recorded complete, up to today."""
        return next((act for _, act in self.done("castration") if act.value("complete")), None)

    @cached_property
    def entire_until(self) -> date | None:
        """The last day on which a castrated male still counts as entire; None while entire."""
        ends = []
        for _, act in self.done("castration"):
            if act.value("complete"):
                told = acts.last_instant(act, self.look.zone)
                assert told is not None
                ends.append(told.astimezone(self.look.zone).date())
        if not ends:
            return None
        return min(ends) + timedelta(days=self.look.settings.fertile_days)

    @property
    def entire(self) -> bool:
        """Whether it is a male that counts as entire today, of whatever age."""
        return self.male and (self.entire_until is None or self.look.today <= self.entire_until)

    @property
    def wether(self) -> bool:
        """Whether it is a castrated male."""
        return self.male and self.castrated is not None

    @property
    def sex_now(self) -> str:
        """Its sex in a word of the trade: as born, or wether."""
        return "wether" if self.wether else self.sex

    def may_sire_on(self, day: date) -> bool:
        """Whether it counts as an entire male able to sire on a day; unknown ages count as able."""
        if not self.male or (self.entire_until is not None and day > self.entire_until):
            return False
        if self.born is None:
            return True
        return (day - self.born).days >= self.look.settings.male_able_days

    def may_conceive_on(self, day: date) -> bool:
        """Whether it counts as a female able to conceive on a day."""
        if not self.female:
            return False
        if self.born is None:
            return True
        return (day - self.born).days >= self.look.settings.female_able_days

    @cached_property
    def heads(self) -> str:
        """What it carries: polled, scurs, disbudded, horned or unknown."""
        if self.last("scurs"):
            return "scurs"
        if self.last("disbudding"):
            return "disbudded"
        return str(self.record.value("horns_born", "unknown"))

    @cached_property
    def gone(self) -> Done | None:
        """The death or leaving that holds today, unless it came back since."""
        left = [one for one in (self.last("leaving"), self.last("death")) if one is not None]
        if not left:
            return None
        day, act = max(left, key=lambda one: (one[1].kind == "death", one[0], one[1].id))
        back = self.last("arrival")
        if act.kind == "leaving" and back is not None and back[0] >= day:
            return None
        return day, act

    @cached_property
    def standing(self) -> str:
        """Here, away, outside, or how it went: sold, given, culled, dead, ..."""
        if self.gone is not None:
            act = self.gone[1]
            how = "death" if act.kind == "death" else str(act.value("how", "sold"))
            return GONE.get(how, "away")
        return str(self.record.value("standing", "here"))

    @cached_property
    def of_herd(self) -> bool:
        """Whether it is one of the herd's animals, here or away for a time, and alive."""
        return self.standing in ("here", "away") and not self.unborn

    @property
    def unborn(self) -> bool:
        """Whether the moment lies before its birth."""
        return self.born is not None and self.born > self.look.today

    def moves(self) -> Iterator[tuple[datetime, bytes, Record]]:
        """Its moves with the earliest instant and the pen of each, in order of time."""
        timed = []
        for act in self.acts.get("pen-move", []):
            at = acts.first_instant(act, self.look.zone)
            pen = act.value("pen")
            if at is not None and isinstance(pen, bytes):
                timed.append((at, self.look.records.canonical(pen), act))
        return iter(sorted(timed, key=lambda one: (one[0], one[2].id)))

    def pen_at(self, moment: datetime) -> bytes | None:
        """The pen it stood in at an instant; None where nobody told or it was gone."""
        if self.gone is not None and self.gone[0] <= moment.astimezone(self.look.zone).date():
            return None
        move = self.past.last_before("pen-move", moment)
        pen = move.value("pen") if move is not None else None
        return self.look.records.canonical(pen) if isinstance(pen, bytes) else None

    @cached_property
    def pen(self) -> bytes | None:
        """The pen it stands in at the moment."""
        return self.pen_at(self.look.moment)

    @cached_property
    def last_kidding(self) -> Done | None:
        """Her latest kidding up to today."""
        return self.last("kidding")

    @cached_property
    def in_milk(self) -> bool:
        """Whether she freshened, or was milked of late, and was not dried off since."""
        if not self.female:
            return False
        dried = self.last("dry-off")
        dry_since = dried[0] if dried else date.min
        if self.last_kidding is not None and self.last_kidding[0] >= dry_since:
            return True
        lately = self.look.today - timedelta(days=MILKED_WITHIN_DAYS)
        milked = self.past.latest("milk", since=lately)
        return milked is not None and milked[0] > dry_since

    @cached_property
    def kids(self) -> list[Record]:
        """Animals that name it as dam or sire, and those it raises, in order of birth."""
        return list(self.named_in.get("animal", []))

    @property
    def weaned(self) -> bool:
        """Whether its weaning is on record."""
        return self.last("weaning") is not None

    @property
    def quarantined_until(self) -> date | None:
        """The last day of quarantine after its latest arrival; None where none runs today."""
        arrived = self.last("arrival")
        if arrived is None:
            return None
        day, act = arrived
        told = [date.fromisoformat(one) for one in act.safety_values("quarantine_until")]
        planned = day + timedelta(days=self.look.settings.quarantine_days)
        until = max(told, default=planned)
        return until if until >= self.look.today else None

    @cached_property
    def unreadable(self) -> bool:
        """Whether a critical entry this program cannot read names it."""
        named = self.look.unreadable
        return bool(named) and not named.isdisjoint(self.record.ids)

    def weight(self) -> Done | None:
        """Its newest weighing up to today that tells a weight."""
        told = (one for one in self.past.newest("weighing") if one[1].value("weight_kg"))
        return next(told, None)
