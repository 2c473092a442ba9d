"""What an import, an export or a paper came to: the frozen answers of this room. Shapes only."""

from __future__ import annotations

from msgspec import Struct


class LineRefused(Struct, frozen=True):
    """One line (or place) of a file that was not taken, and why."""

    line: int
    why: str


class ColumnRead(Struct, frozen=True):
    """One column of a file and the field it filled; empty where it was left out."""

    heading: str
    field: str
    unit: str = ""


class Imported(Struct, frozen=True):
    """What came of a file: lines read, records written, already here, refused line by line.

    ``refused`` holds the first thousand; ``refused_lines`` counts all. With ``dry_run`` nothing was
    written, and ``written`` says what would be.
    """

    file: str
    kind: str
    dry_run: bool
    lines: int
    written: int
    here: int
    refused_lines: int
    refused: list[LineRefused]
    warnings: list[str] = []
    columns: list[ColumnRead] = []


class Exported(Struct, frozen=True):
    """Files written, each with how many lines or records it holds."""

    what: str
    files: dict[str, int]


class PaperLine(Struct, frozen=True):
    """One paper: its text, whether it may be handed over, and what stands in the way or beside it.

    ``says``: what must be said of the print, as of letters its font lacks.
    """

    paper: str
    about: str
    title: str
    fit: bool
    blocks: list[str]
    marks: list[str]
    text: str
    files: list[str] = []
    says: str = ""


class CalendarMade(Struct, frozen=True):
    """A calendar written, how many events it holds, and how many it tells as cancelled since."""

    file: str
    events: int
    cancelled: int = 0


class PaperChecked(Struct, frozen=True):
    """One paper a proof names: whether its bytes are those that were signed."""

    paper: str
    holds: bool
    says: str
    sha256: str = ""


class ProofChecked(Struct, frozen=True):
    """What a proof file came to. ``holds``: every paper and entry is as it was signed, and the key is
    one the farm let in. ``says``: how that key came into the farm, link by link.
    """

    file: str
    holds: bool
    signed_by: str
    key: str
    farm: str
    farm_id: str
    papers: list[PaperChecked]
    entries: list[str]
    says: list[str]
    faults: list[str]
