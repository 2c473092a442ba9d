"""The shapes of a care plan: its items, whom they are for, and the ways of saying when.

Must not know files, records or any animal.
"""

from __future__ import annotations

from functools import cached_property

from msgspec import Struct, structs

from herdsync.faults import BadBytes
from herdsync.kinds import CATALOGUE

MORNING, MIDDAY, EVENING, NIGHT = CHORES = ("morning", "midday", "evening", "night")
APART, TATTOOED, KIDS_WRITTEN = FACTS = ("apart", "tattooed", "kids-written")


class Whom(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Whom an item is for; what is left out does not matter. Lists: any of these.

    ``sex`` as born; ``entire`` and ``wether`` as castrations tell; ``heads`` as they are now.
    """

    sex: list[str] = []
    entire: bool | None = None
    wether: bool | None = None
    from_age_days: int | None = None
    to_age_days: int | None = None
    horns_born: list[str] = []
    heads: list[str] = []
    in_milk: bool | None = None
    bred: bool | None = None
    kidded: bool | None = None
    suckles: bool | None = None
    weaned: bool | None = None
    covered: bool | None = None
    kept_as: list[str] = []
    not_kept_as: list[str] = []
    size: list[str] = []
    groups: list[str] = []
    standing: tuple[str, ...] = ("here",)


class Met(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """An act that does the work: its kind, and what its fields must hold.

    A key of ``where`` names a field, or several with ``|`` of which one must hold; the value is
    one allowed value or a list of them. ``of`` matches a procedure by its kind or its record.
    """

    kind: str
    where: dict[str, str | bool | int | list[str | bool | int]] = {}


class Every(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Every so many days after the last such act; asked for in ``months`` alone.

    The first time falls to an age, or counts from the latest act of the kind ``first_after``, which
    begins it anew each time; where neither is told, to when the animal is first known.

    ``worm_days`` counts instead in the months the farm has set for worms. It may be done
    ``open_before`` days early and is late after ``grace`` days (``first_grace`` the first time).
    """

    days: int
    worm_days: int | None = None
    months: list[int] = []
    first_age_days: int | None = None
    first_after: str = ""
    open_before: int = 0
    grace: int = 0
    first_grace: int | None = None


class AgeWindow(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Days (or hours) of age, both ends included; after ``lost`` the work is missed.

    ``whom`` narrows one of several windows of an item; the first that fits counts. What was done
    before the age ``counts_from`` does not do it.
    """

    opens: int
    best: int | None = None
    closes: int
    lost: int | None = None
    counts_from: int | None = None
    hours: bool = False
    needs_kg: str = ""
    whom: Whom | None = None


class After(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True, dict=True):
    """Days after another act: a ladder of ``days``, or one window.

    ``which``: the latest, the first, or each such act counts; not one that holds ``unless``, nor one
    whose field ``unless_told`` is told. ``until``: acts that end it.
    """

    kind: str
    where: dict[str, str | bool | int | list[str | bool | int]] = {}
    unless: dict[str, str | bool | int | list[str | bool | int]] = {}
    unless_told: str = ""
    which: str = "latest"
    days: list[int] = []
    opens: int = 0
    best: int | None = None
    closes: int = 0
    lost: int | None = None
    until: list[Met] = []

    @cached_property
    def rungs_open(self) -> list[int]:
        """The day each rung opens: half-way from the one before, so that one look meets one rung."""
        before = [0, *self.days[:-1]]
        return [day - (day - earlier) // 2 for day, earlier in zip(self.days, before, strict=True)]


class AroundDue(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Days before (negative) or after a doe's due date, or the earliest or latest day she may kid.

    ``opens_from``, ``best_from`` and ``closes_from`` say which: due, earliest or latest.
    """

    opens: int
    best: int
    closes: int
    lost: int | None = None
    opens_from: str = "due"
    best_from: str = "due"
    closes_from: str = "due"


class Season(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A part of the year, both ends included, as ``MM-DD``; it may run over new year.

    What was done up to ``back_days`` before it opens counts for it.
    """

    opens: str
    closes: str
    back_days: int = 0


class Preset(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Another interval or window that a keeper may choose for an item, with its own source."""

    says: str
    source: str
    every: Every | None = None
    window: list[AgeWindow] = []
    after: After | None = None
    due_date: AroundDue | None = None
    season: Season | None = None


class Item(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True, dict=True):
    """One piece of work the plan asks for. Exactly one of the six ways of ``when`` is set.

    ``on``: an animal, a pen, or once the whole farm.
    ``by``: the acts that do it, the one to record first; a ``chore-done`` of its id always does.
    ``setting``: the farm setting that gives its days. ``met_if``: a derived fact that does it.
    ``watch``: a time to keep an eye open, over when it is over. ``missed_days``: so long after its
    last chance missed work is still told. ``tells_holds``: holds said beside it (then its words are
    ``held_work``); ``barred_by``: holds that forbid it. ``gentle``: what is said of it in the last
    ``gentle_days`` before a doe is due. ``law`` is text, or the name of a table of country law.
    """

    id: str
    work: str
    by: list[Met] = []
    on: str = "animal"
    pen: str = ""
    whom: Whom = Whom()
    every: Every | None = None
    chore: list[str] = []
    window: list[AgeWindow] = []
    after: After | None = None
    due_date: AroundDue | None = None
    season: Season | None = None
    quarantine: bool | None = None
    setting: str = ""
    met_if: str = ""
    barred_by: list[str] = []
    tells_holds: list[str] = []
    says: str = ""
    caution: str = ""
    law: str = ""
    source: str
    hazard: bool = False
    watch: bool = False
    held_work: str = ""
    gentle: str = ""
    gentle_days: int | None = None
    missed_days: int = 28
    presets: dict[str, Preset] = {}

    @property
    def ways(self) -> list[str]:
        """The ways of ``when`` that are set."""
        found = {
            "every": self.every, "chore": self.chore, "window": self.window, "after": self.after,
            "due_date": self.due_date, "season": self.season,
        }  # fmt: skip
        return [name for name, told in found.items() if told]

    @cached_property
    def kind(self) -> str:
        """The kind of record that does the work."""
        return self.by[0].kind if self.by else "chore-done"

    @cached_property
    def heeded(self) -> tuple[str, ...]:
        """The holds that forbid it or are said beside it, once each."""
        return tuple(dict.fromkeys((*self.barred_by, *self.tells_holds)))

    @cached_property
    def warning(self) -> str:
        """The caution shown with it: its own, else that of the kind of record where it can hurt."""
        kind = CATALOGUE.get(self.kind)
        return self.caution or (kind.caution if kind is not None and self.hazard else "")

    @cached_property
    def preset(self) -> dict[str, str]:
        """Field values to fill in beforehand when it is recorded, as text a keeper could type."""
        if not self.by:
            return {"item": self.id}
        found = {}
        for key, wanted in self.by[0].where.items():
            first = wanted[0] if isinstance(wanted, list) else wanted
            if "|" not in key:
                found[key] = ("yes" if first else "no") if isinstance(first, bool) else str(first)
        return found

    def under(self, preset: str) -> Item:
        """The item with one of its presets in force. Raises BadBytes naming those there are."""
        chosen = self.presets.get(preset)
        if chosen is None:
            known = ", ".join(self.presets) or "none"
            raise bad(self.id, f"has no preset {preset[:60]!r}; it has {known}")
        return structs.replace(
            self, every=chosen.every, chore=[], window=chosen.window, after=chosen.after,
            due_date=chosen.due_date, season=chosen.season, setting="", says=chosen.says,
            source=chosen.source,
        )  # fmt: skip


class Plan(Struct, frozen=True):
    """A care plan: ``hash`` is the SHA-256 (hex) of its bytes as shipped, without farm items."""

    name: str
    title: str
    items: tuple[Item, ...]
    hash: str

    def item(self, id: str) -> Item | None:
        """The item of that name."""
        return next((item for item in self.items if item.id == id), None)


def bad(id: str, what: str) -> BadBytes:
    """The fault of an item that does not hold together, as a sentence."""
    return BadBytes(f"The item {id[:60]!r} of the care plan {what}.", "Mend it there.")
