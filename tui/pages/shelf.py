"""The shelf: products as the keepers wrote them down, what is left, expiry, last use. Only shown here."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from herdsync.reports import MedicineLine
from herdsync.sights import LastUse
from tui import words
from tui.pages.page import Cell, Fact, Row

NOT_COUNTED = "not counted"


def row(line: MedicineLine, last: LastUse | None, now: datetime) -> Row:
    """One product: what is left, its name, its expiry and lots, when it was last given."""
    left = NOT_COUNTED if line.stock_ml is None else f"{line.stock_ml:g} mL"
    short = any("under the" in one or "more was used" in one for one in line.warnings)
    shelf_life, tone = expiry(line, now)
    lots = f"lot {', '.join(line.lots)}" if line.lots else "no lot told"
    given = f"last {words.stamp(last.on, now)}" if last is not None else "never given"
    cells = (
        Cell(f"▲ {left}" if short else left, "late" if short else "plain"),
        Cell(line.name, "strong"),
        Cell(f"{shelf_life}, {lots}", tone),
        Cell(given, "dim"),
    )
    return Row(f"product {line.id}", cells, record=line.id, name=line.name)


def expiry(line: MedicineLine, now: datetime) -> tuple[str, str]:
    """Until when a product may be used, in words, and their tone."""
    if not line.expiry:
        return "no expiry told", "dim"
    said = words.day_word(line.expiry, now)
    return (f"▲ expired {said}", "late") if line.expired else (f"expires {said}", "plain")


def facts(line: MedicineLine, last: LastUse | None, caution: str, now: datetime) -> list[Fact]:
    """What is to look at first, then stock, sheet, last use, and what the sheet lacks."""
    found = [Fact("! Look", one, "late") for one in line.warnings]
    found.append(Fact("Left", line.stock_says))
    found.append(Fact("Held after it", _held(line)))
    found.append(Fact("Sheet", ", ".join(_sheet(line)) or "only its name"))
    if last is not None:
        found.append(Fact("Last given", f"{words.day_word(last.on, now)} to {last.name}"))
    if line.gaps:
        found.append(Fact("Its sheet lacks", f"{'; '.join(line.gaps)} (enter, then e)", "closing"))
    return [*found, Fact("! Caution", caution, "closing")]


def _held(line: MedicineLine) -> str:
    milk = "milk not told" if line.milk_h is None else f"milk {line.milk_h:g} h"
    meat = "meat not told" if line.meat_d is None else f"meat {line.meat_d:g} d"
    counted = (
        f", counted from the {line.counted_from.replace('-', ' ')}" if line.counted_from else ""
    )
    return f"{milk}, {meat}{counted}; said by {line.said_by or 'nobody yet'}"


def _sheet(line: MedicineLine) -> list[str]:
    told: Mapping[str, str] = {
        "": line.substance if line.substance != line.name else "",
        "use ": line.use,
        "strength ": _figure(line.strength_mg_per_ml, "mg per mL"),
        "route ": line.route.replace("-", " "),
        "every ": _figure(line.interval_h, "h"),
        "doses in a course ": str(line.course_doses or ""),
        "family ": line.family,
    }
    return [f"{label}{said}" for label, said in told.items() if said]


def _figure(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value:g} {unit}"
