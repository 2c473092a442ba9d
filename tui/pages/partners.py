"""Partners: the laptops of the farm, what each has, how far each is known here."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from herdsync.answers import DeviceLine, PlanLine, SettingLine
from tui import words
from tui.pages.page import Cell, Column, Fact, Page, Row, heading

if TYPE_CHECKING:
    from herdsync.farm import Farm

COLUMNS = (
    Column("Keeper", 12, grow=1),
    Column("Laptop", 12, grow=1),
    Column("Role", 16, grow=1),
    Column("Entries", 7),
    Column("Last heard", 17, grow=1, room=66),
)
ALONE = (
    "A partner's laptop joins so: there, open herdsync in an empty folder and choose 'join', with "
    "the folder or stick you share. It shows a code. Here press j and type the code in."
)
WAITING = (
    "A laptop wrote after it was put out, or beyond its role. It counts for safety alone until a keeper "
    "adopts it or sets it aside."
)
NO_CARRIER_SAID = (
    "b names the folder or stick. While it is there and this is open, the exchange goes by itself."
)
SETTING_COLUMNS = (
    Column("Setting", 18, grow=1),
    Column("Set to", 18, grow=2),
    Column("", 10, 4, 80),
)
PLAN_COLUMNS = (Column("Work", 30, grow=3), Column("When", 20, grow=3), Column("Counts", 10))


@dataclass(frozen=True)
class Partners:
    """What Partners needs of the farm."""

    devices: list[DeviceLine]
    waiting: int = 0


@dataclass(frozen=True)
class Carrier:
    """The folder, stick or address last used, whether it is exchanged through unasked, the last word."""

    told: str = ""
    by_itself: bool = True
    said: str = ""


def read(farm: Farm) -> Partners:
    """The laptops, and how many entries wait for a keeper's word."""
    return Partners(farm.devices(), len({line.entry for line in farm.unvouched()}))


def page(told: Partners, now: datetime, carrier: Carrier | None = None) -> Page:
    """A line a laptop; then what waits; then the carrier."""
    rows: list[Row] = []
    facts: dict[str, list[Fact]] = {}
    for line in told.devices:
        key = f"device {line.key}"
        rows.append(_row(line, key, now))
        facts[key] = _facts(line, now)
        if len(told.devices) == 1:
            facts[key].insert(0, Fact("No partner yet", ALONE, "closing"))
    if told.waiting:
        count = words.count(told.waiting, "entry waits", "entries wait")
        rows.append(Row("waiting", (Cell("! Unvouched", "late"), Cell(f"{count}: n", "late"))))
        facts["waiting"] = [Fact("! Not vouched for", WAITING, "late")]
    if carrier is not None and rows:
        rows.append(heading("carrier", "Exchange"))
        how = "by itself" if carrier.by_itself and carrier.told else "when asked"
        cells = (Cell(carrier.told or "no folder yet"), Cell(how), Cell("b exchanges", "dim"))
        rows.append(Row("carrier", cells))
        facts["carrier"] = [Fact("", carrier.said or NO_CARRIER_SAID)]
    return Page(COLUMNS, rows, "No laptop is known.", facts)


def _row(line: DeviceLine, key: str, now: datetime) -> Row:
    role = f"{line.role}, steward" if line.steward else line.role
    heard = "this laptop" if line.this else words.stamp(line.last_recorded, now)
    forked = " FORKED" if line.branches > 1 else ""
    cells = (
        Cell(line.keeper, "strong"),
        Cell(("▸" if line.this else "") + line.device),
        Cell(role + forked, "late" if forked else "plain"),
        Cell(str(line.entries)),
        Cell(heard, "dim"),
    )
    return Row(key, cells, record="", name=line.device)


def _facts(line: DeviceLine, now: datetime) -> list[Fact]:
    found = [Fact("Last wrote", words.day_word(line.last_recorded, now) or "never")]
    if line.known_here:
        found.append(Fact("Known here up to", line.known_here))
    if line.branches > 1:
        found.append(
            Fact(
                "! Two laptops write with one key",
                "A copied or restored farm: nothing is lost, both are kept. Remove the key and "
                "join afresh.",
                "late",
            )
        )
    return [*found, Fact("Key", line.key, "dim")]


def settings_page(told: list[SettingLine]) -> Page:
    """A line a setting."""
    rows, facts = [], {}
    for line in told:
        tone = "late" if line.disputed else "strong"
        cells = (Cell(line.key), Cell(line.value or "not set", tone), Cell(line.help, "dim"))
        rows.append(Row(f"setting {line.key}", cells, name=line.key))
        facts[f"setting {line.key}"] = [
            Fact("", line.help),
            Fact("Set to", line.value or "not set"),
        ]
    return Page(SETTING_COLUMNS, rows, "There is no setting.", facts)


def plan_page(told: list[PlanLine]) -> Page:
    """A line an item of the care plan."""
    rows, facts = [], {}
    for line in told:
        counts = Cell("retired", "dim") if line.retired else Cell("counts", "good")
        mark = "! " if line.caution else ""
        cells = (
            Cell(mark + line.work, "dim" if line.retired else "plain"),
            Cell(line.when),
            counts,
        )
        rows.append(Row(f"plan {line.id}", cells, name=line.id))
        facts[f"plan {line.id}"] = [Fact("When", line.when)]
        if line.caution:
            facts[f"plan {line.id}"].append(Fact("! Caution", line.caution, "closing"))
        if line.law:
            facts[f"plan {line.id}"].append(Fact("Law", line.law, "closing"))
        facts[f"plan {line.id}"] += [
            Fact("Source", line.source, "dim"),
            Fact("Item", line.id, "dim"),
        ]
    return Page(PLAN_COLUMNS, rows, "The care plan is empty.", facts)
