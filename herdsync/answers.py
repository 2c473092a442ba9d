"""The frozen answers of the farm: what command line and dashboard show. Shapes only, no rules.

Field names are a contract with everyone who reads ``--json``: more may be added, none renamed.
Moments are RFC 3339 text with the farm's offset, dates ``YYYY-MM-DD``, weights kg, volumes mL.
Ids are lower-case base32 text.
"""

from __future__ import annotations

from typing import Any

from msgspec import Struct


class Founded(Struct, frozen=True):
    """A new farm; ``recovery`` holds the 24 words, shown once."""

    farm: str
    device: str
    recovery: str


class Setback(Struct, frozen=True):
    """One thing that was refused and why."""

    what: str
    why: str

    @property
    def said(self) -> str:
        """The sentence for the keeper."""
        return f"Refused {self.what}: {self.why}"


class Recorded(Struct, frozen=True, omit_defaults=True):
    """One record written (``id``), or several in one batch (``batch`` and ``ids``)."""

    id: str = ""
    kind: str = ""
    warnings: list[str] = []
    batch: str = ""
    ids: list[str] = []


class Written(Struct, frozen=True):
    """The record (or pair, or conflict) an act wrote to."""

    id: str
    entry: str = ""
    warnings: list[str] = []


class DueLine(Struct, frozen=True, gc=False):
    """One piece of work on one animal or pen. ``id`` is the identity for skip and postpone."""

    id: str
    animal: str
    name: str
    pen: str
    item: str
    work: str
    kind: str
    state: str
    opens: str
    best: str
    closes: str
    due: str
    reason: str
    caution: str = ""
    blocks: list[str] = []
    subject: str = ""
    law: str = ""
    source: str = ""
    preset: dict[str, str] = {}


class Timer(Struct, frozen=True):
    """One running clock: next dose, recheck, milk or meat clear, ring drop. ``left_s`` seconds."""

    animal: str
    name: str
    what: str
    since: str
    ends: str
    left_s: int
    doubtful: bool
    records: list[str]


class Hold(Struct, frozen=True):
    """Something an animal may not do yet, until when, and which records say so."""

    what: str
    until: str
    reason: str
    records: list[str]
    disputed: bool = False


class HerdLine(Struct, frozen=True):
    """One animal of the herd; ``sex`` is as born, ``sex_now`` says wether of a castrated male."""

    id: str
    name: str
    sex: str
    born: str
    age_days: int | None
    standing: str
    pen: str
    horns: str
    tattoo_right: str
    tattoo_left: str
    dam: str
    sire: str
    holds: list[str]
    disputed: bool
    state: list[str] = []
    breed: str = ""
    due: int = 0
    pen_id: str = ""
    dam_name: str = ""
    sire_name: str = ""
    sex_now: str = ""


class ClaimLine(Struct, frozen=True):
    """One claim: what was said, by whom, on which device, when the device's clock says."""

    id: str
    value: Any
    keeper: str
    by: str
    device: str
    recorded: str
    saw: list[str] = []
    shown: str = ""
    stands: bool = True
    vouched: bool = True


class FieldAnswer(Struct, frozen=True):
    """One field of a record: its provisional value, whether it is disputed, every claim."""

    value: Any
    disputed: bool
    claims: list[ClaimLine]
    shown: str = ""


class RecordAnswer(Struct, frozen=True):
    """One record, whole."""

    id: str
    kind: str
    fields: dict[str, FieldAnswer]
    stands: bool
    title: str
    ids: list[str]
    animal: HerdLine | None = None
    due: list[DueLine] = []
    holds: list[Hold] = []
    timers: list[Timer] = []
    acts: list[ActLine] = []
    kids: list[str] = []
    unreadable: bool = False


class ActLine(Struct, frozen=True):
    """One act in an animal's life, newest first."""

    id: str
    kind: str
    title: str
    on: str
    shown: str
    disputed: bool


class ConflictLine(Struct, frozen=True):
    """One disagreement. ``kind`` is field, retract, pair or rule; ``records`` are those it touches."""

    id: str
    kind: str
    subject: str
    field: str
    claims: list[ClaimLine]
    after: str
    open: bool
    says: str = ""
    mend: str = ""
    records: list[str] = []
    record_kind: str = ""
    animal: str = ""
    name: str = ""


class TrailLine(Struct, frozen=True):
    """One entry's effect on one field (or on the whole record where ``field`` is empty)."""

    entry: str
    verb: str
    kind: str
    keeper: str
    by: str
    device: str
    recorded: str
    height: int
    field: str
    before: list[Any]
    after: Any
    because: str
    signature: str
    record: str = ""
    title: str = ""
    doubtful: bool = False
    by_hand: bool = False
    vouched: bool = True


class DeviceLine(Struct, frozen=True):
    """One device of the farm as this one knows it.

    Of another one: ``heard`` is its own clock when last heard, ``known_here`` the same where everything
    it then had is here, ``lacks`` how many entries here it is not known to have, ``address`` where it last
    answered. Of this one: ``only_here`` counts entries that no other laptop is known to have, ``left``
    those of them that lie sealed on a carrier; with none it is safe to lose this laptop.
    """

    device: str
    keeper: str
    role: str
    steward: bool
    this: bool
    entries: int
    last_recorded: str
    key: str
    branches: int = 1
    known_here: str = ""
    heard: str = ""
    lacks: int = 0
    only_here: int = 0
    left: int = 0
    address: str = ""


class Verified(Struct, frozen=True):
    """The outcome of checking every stored byte."""

    entries: int
    devices: int
    records: int
    faults: list[str]
    forks: list[str]
    unvouched: int
    parked: int = 0
    unreadable: int = 0
    unread: list[Setback] = []


class Found(Struct, frozen=True):
    """One record that answers a search."""

    id: str
    kind: str
    title: str
    matched: str


class SettingLine(Struct, frozen=True):
    """One setting of the farm."""

    key: str
    value: str
    help: str
    disputed: bool = False


class Mating(Struct, frozen=True):
    """What would follow from a mating; fractions, dates."""

    inbreeding: float
    relationship: float
    generations: int
    due: str
    window: list[str]
    warnings: list[str]


class DoseVolume(Struct, frozen=True):
    """A volume computed from typed figures; never a prescription."""

    weight_kg: float
    weight_age_days: int | None
    volume_ml: float
    rounded_ml: float
    change_percent: float
    sites: int
    warnings: list[str]
    each_ml: float = 0.0
    said_by: str = ""


class RationSum(Struct, frozen=True):
    """Calcium and phosphorus of a ration."""

    calcium_g: float
    phosphorus_g: float
    ratio: float
    advice: str
    reason: str = ""
    limestone_g: float | None = None
    further: list[str] = []
    caution: str = ""


class Proved(Struct, frozen=True):
    """A proof file written for one entry."""

    entry: str
    file: str


class Backed(Struct, frozen=True):
    """A backup written or restored."""

    file: str
    entries: int


class PlanLine(Struct, frozen=True):
    """One item of the care plan as it counts here: the work, when, for whom, and on whose word."""

    id: str
    work: str
    when: str
    source: str
    caution: str = ""
    law: str = ""
    retired: bool = False


class PlanChange(Struct, frozen=True):
    """One piece of work that a change of the care plan would bring, take away or move.

    ``what`` is new, gone or moved; a state and day that do not apply are empty.
    """

    what: str
    animal: str
    name: str
    pen: str
    item: str
    work: str
    state_before: str
    due_before: str
    state_after: str
    due_after: str
    reason: str


class Rehearsed(Struct, frozen=True):
    """The farm that recovery words were shown to rule."""

    farm: str
    name: str


class Recovered(Struct, frozen=True):
    """A farm won back with the recovery words; ``removed`` are the devices put out."""

    farm: str
    device: str
    removed: list[str]
    received: int
