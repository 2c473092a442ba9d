"""Settings and care plan as lines. Only shown here."""

from __future__ import annotations

from herdsync.answers import PlanLine, SettingLine
from tui.pages.page import Cell, Column, Fact, Page, Row

SETTING_COLUMNS = (
    Column("Setting", 18, grow=1),
    Column("Set to", 18, grow=2),
    Column("", 10, 4, 80),
)
PLAN_COLUMNS = (
    Column("Work", 30, grow=3),
    Column("When", 20, grow=3),
    Column("Counts", 10, room=74),
)


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
