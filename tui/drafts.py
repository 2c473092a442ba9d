"""What is about to be written down: kind, fields as typed, for whom, and what must still be asked.

Knows kinds and no farm; the farm has the last word on every field.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from herdsync.answers import DueLine
from herdsync.kinds import CATALOGUE, Kind
from tui import words

# What is asked first, kind by kind; the rest waits behind "more". A kind that is not named here
# asks for what it needs and its first few fields.
ASKED_FIRST: dict[str, tuple[str, ...]] = {
    "hoof-trim": ("lame", "front_left", "front_right", "hind_left", "hind_right", "heavy", "note"),
    "disbudding": ("applications", "seconds", "pain_relief", "note"),
    "castration": ("method", "complete", "testes", "tetanus", "pain_relief"),
    "check": ("of", "finding", "again", "note"),
    "weighing": ("weight_kg", "how"),
    "dose": ("product", "amount_ml", "route", "site", "milk_h", "meat_d", "said_by", "because"),
    "vaccination": ("product", "amount_ml", "lot", "against", "milk_h", "meat_d", "said_by"),
    "mating": ("buck", "how", "until", "seen"),
    "kidding": ("ease", "born_alive", "born_dead", "cleansed", "note"),
    "animal": ("name", "sex", "born", "breed", "horns_born", "dam", "sire", "tattoo_right",
               "tattoo_left", "standing"),
    "product": ("name", "substance", "use", "strength_mg_per_ml", "rate_mg_per_kg", "route",
                "interval_h", "milk_h", "meat_d", "said_by"),
    "tattoo": ("stage", "right", "left", "legibility_right", "legibility_left"),
    "milk": ("milk_kg", "milking", "sold"),
    # The figure first: counted again, its pen is known.
    "counted-heads": ("heads", "pen", "note"),
    "scurs": ("left_mm", "right_mm", "left_direction", "right_direction", "trimmed"),
}  # fmt: skip
FIRST_FEW = 6
# Kinds whose record says little without a detail the kind itself does not insist on.
WORTH_ASKING = frozenset({"castration", "disease-test", "mating", "kidding", "scurs", "feeding"})
# Given with the draft and not asked: ids that say what the record belongs to.
SILENT = ("item", "work", "about", "kidding", "course")
# Kinds whose point is one figure an animal: with several animals each gets its own line.
ONE_FIGURE: dict[str, str] = {
    "weighing": "weight_kg",
    "milk": "milk_kg",
    "temperature": "temperature_c",
    "condition-score": "score",
    "eyelid-score": "score",
    "egg-count": "eggs",
}
Whom = tuple[str, str]  # an animal's id and name


@dataclass(frozen=True)
class Draft:
    """One act about to be written down, for each of ``animals`` alike.

    ``apart``: ids of those whose milk is held now, which is never written down as sold unasked.
    """

    kind: Kind
    pairs: dict[str, str] = field(default_factory=dict)
    animals: list[Whom] = field(default_factory=list)
    caution: str = ""
    title: str = ""
    apart: frozenset[str] = frozenset()

    @property
    def missing(self) -> list[str]:
        """Fields that must still be given."""
        given = set(self.pairs) | ({self.kind.subject} if self.animals else set())
        return [
            name
            for name, one in self.kind.fields.items()
            if one.required and not one.default_now and name not in given
        ]

    @property
    def silent(self) -> dict[str, str]:
        """What is written without being asked."""
        return {name: text for name, text in self.pairs.items() if name in SILENT}

    @property
    def tellings(self) -> list[dict[str, str]]:
        """What is written of each it is for; one telling where it is for nobody."""
        subject = self.kind.subject or ""
        return [self.pairs | {subject: id} for id, _ in self.animals] or [dict(self.pairs)]

    @property
    def warned(self) -> str:
        """Every caution that goes with it: that of the kind, then that of the work."""
        told = [self.kind.caution, self.caution if self.caution != self.kind.caution else ""]
        return "\n".join(one for one in told if one)

    @property
    def plain(self) -> bool:
        """Whether it can be written at once: nothing to beware of, nothing to ask, done now."""
        asked = self.kind.name in WORTH_ASKING or self.kind.on in self.pairs
        return not asked and not self.warned and not self.missing

    def own(self, animal: str) -> dict[str, str]:
        """What is written of one animal whatever is written of the others."""
        held = animal in self.apart and "sold" in self.kind.fields
        return {"sold": "no"} if held else {}

    @property
    def one_figure(self) -> str:
        """The field that differs from animal to animal, where several are written at once."""
        return ONE_FIGURE.get(self.kind.name, "") if len(self.animals) > 1 else ""

    def asked(self) -> tuple[list[str], list[str]]:
        """Names of the fields asked first, and of those behind "more"."""
        # Work of the plan is for whom it is asked, be it the whole farm.
        told = self.animals or "item" in self.pairs
        subject = self.kind.subject if told else None
        silent = self.silent
        every = [name for name in self.kind.fields if name != subject and name not in silent]
        named = ASKED_FIRST.get(self.kind.name)
        first = [
            name
            for name in (named or [one for one in every if one != self.kind.on][:FIRST_FEW])
            if name in every
        ]
        first = [*[name for name in self.missing if name not in first], *first]
        first += [name for name in self.pairs if name in every and name not in first]
        on = self.kind.on
        if on is not None and on not in first:
            first.append(on)
        return first, [name for name in every if name not in first]


def draft_of(line: DueLine, now: datetime) -> Draft:
    """What would be written for a piece of work as it stands.

    What was missed is not done by doing it now: it asks when it was done, at its time to begin with.
    """
    kind = CATALOGUE[line.kind]
    pairs = dict(line.preset)
    if line.state == "missed" and line.due and kind.on is not None:
        pairs[kind.on] = words.typed_again(line.due, now)
    about = line.animal or line.subject
    for_whom = [(about, line.name or line.pen)]
    animals = for_whom if kind.subject is not None and kind.subject not in pairs and about else []
    barred = [f"In the way: {one}" for one in line.blocks] if line.state == "barred" else []
    caution = "\n".join(one for one in (line.caution, *barred) if one)
    return Draft(kind, pairs, animals, caution, line.work)


def drafts_of(lines: list[DueLine], now: datetime) -> list[Draft]:
    """The acts of several pieces of work: one draft for all that are written alike."""
    found: dict[tuple[str, str, tuple[tuple[str, str], ...]], Draft] = {}
    for line in lines:
        one = draft_of(line, now)
        alike = (one.kind.name, one.warned, tuple(sorted(one.pairs.items())))
        if alike in found and one.animals:
            found[alike].animals.extend(one.animals)
        elif alike in found:
            found[(*alike[:1], line.id, alike[2])] = one
        else:
            found[alike] = one
    return list(found.values())


def of_a_kind(drafts: Sequence[Draft]) -> list[list[Draft]]:
    """Drafts kind by kind: those of one are written in one batch, and taken back as one."""
    found: dict[str, list[Draft]] = {}
    for draft in drafts:
        found.setdefault(draft.kind.name, []).append(draft)
    return list(found.values())
