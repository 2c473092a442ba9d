"""Tables of every kind and view: no cell acts on a spreadsheet, every amount tells its unit."""

from __future__ import annotations

import csv
import re
from pathlib import Path

from herdsync.farm import Farm
from herdsync.kinds import CATALOGUE
from herdsync.kinds.quantities import Quantity
from herdsync.papers.cells import ACTIVE

HOSTILE = ("=1+1", "+2", "-3+4", "@SUM(A1)", "\uff1d1", " =2", "'=3", "|calc")
_NUMBER = re.compile(r"-?\d+(\.\d+)?([eE][+-]?\d+)?")


def test_no_cell_of_any_kind_or_view_is_taken_for_a_formula(farm: Farm, tmp_path: Path) -> None:
    """OWASP, CSV Injection (from memory): cells that begin with = + - @ tab or carriage return."""
    for at, name in enumerate(HOSTILE):
        farm.record("pen", {"name": name})
        doe = farm.record("animal", {"name": name, "sex": "doe", "born": "2021-03-01"}).id
        farm.record("note", {"about": doe, "text": name, "on": "2026-05-01"})
        farm.record("pen-move", {"animal": doe, "pen": name, "on": "2026-05-01"})
        farm.record("milk", {"doe": doe, "on": "2026-05-01", "milk_kg": str(1 + at)})
        farm.record("condition-score", {"animal": doe, "on": "2026-05-01", "score": "3"})
    done = farm.export_tables(tmp_path / "all")
    seen = 0
    for name in done.files:
        with Path(name).open(newline="", encoding="utf-8") as opened:
            rows = list(csv.reader(opened, strict=True))
        # RFC 4180, section 2.4: every line has as many fields.
        assert {len(row) for row in rows} == {len(rows[0])}, name
        assert Path(name).read_bytes().endswith(b"\r\n")
        for cell in (cell for row in rows for cell in row):
            bare = cell.lstrip(" \u00a0\u3000")
            if bare[:1] in ACTIVE and bare:
                seen += 1
                assert cell.startswith("'") or _NUMBER.fullmatch(cell), (name, cell)
    assert seen > len(HOSTILE)


def test_every_amount_of_every_kind_tells_its_unit_in_the_heading(
    farm: Farm, tmp_path: Path
) -> None:
    farm.export_tables(tmp_path / "all")
    for name, kind in CATALOGUE.items():
        file = tmp_path / "all" / f"{name}.csv"
        if not file.exists():
            farm.export_table(name, file)
        with file.open(newline="", encoding="utf-8") as opened:
            headings = next(csv.reader(opened))
        for field, spec in kind.fields.items():
            if isinstance(spec.form, Quantity) and not spec.many:
                assert f"{field} ({spec.form.unit})" in headings
                assert f"{field} as written" in headings
