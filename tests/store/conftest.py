"""Keys of every proof of the store live in a folder of its own, never in the user's."""

from __future__ import annotations

from pathlib import Path

import pytest

from herdsync.store.keyring import KEYS_VARIABLE


@pytest.fixture(autouse=True)
def keys(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "keys"
    monkeypatch.setenv(KEYS_VARIABLE, str(folder))
    return folder
