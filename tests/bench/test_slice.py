"""Every measure runs, on a history so short that its figures say nothing of speed."""

from __future__ import annotations

from pathlib import Path

import pytest

from herdsync.store.keyring import KEYS_VARIABLE
from tests.bench.__main__ import table
from tests.bench.measures import MEASURES, Figures, stream_of
from tests.bench.stream import write_stream

SIZE = 300


@pytest.mark.parametrize("laptops", [2, 8])
def test_every_measure_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, laptops: int) -> None:
    # The measures name the folder of keys themselves: what they leave is undone with this.
    monkeypatch.setenv(KEYS_VARIABLE, str(tmp_path / "keys"))
    written = write_stream(stream_of(tmp_path), SIZE, laptops)
    found: Figures = {}
    for measure in MEASURES:
        found |= measure(tmp_path)
    assert found["entries"] == written >= SIZE
    assert all(figure > 0 for figure in found.values())
    # A small farm is mostly empty pages; a carrier holds little beside the entries.
    assert 100 < found["on a carrier, bytes/act"] < 1_000
    lines = table({"short": found})
    assert [line[:36].strip() for line in lines[1:]] == list(found)
