"""What a watch says: what moves, and each refusal or fault once, not at every look."""

from __future__ import annotations

from pathlib import Path

import pytest

from herdsync.answers import Exchanged, Setback
from herdsync.cli import carrying
from herdsync.cli.asking import Asked
from herdsync.cli.carrying import Watched
from herdsync.faults import Refused

DAMAGED = Setback("file a.bundle", "It does not authenticate.")
OTHER = Setback("file b.bundle", "It is empty.")
GONE = Refused("There is no folder there.", "Plug the stick in.")


def moved(received: int = 0, *refused: Setback) -> Exchanged:
    return Exchanged(0, received, 0, list(refused), 0)


@pytest.mark.parametrize("as_json", [False, True])
def test_each_thing_is_told_once(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    as_json: bool,
) -> None:
    looks: list[tuple[Exchanged | Refused, str, str]] = [
        (moved(), "", ""),
        (moved(2, DAMAGED), "a.bundle", ""),
        (moved(0, DAMAGED), "", ""),
        (moved(1, DAMAGED), "a.bundle", ""),
        (moved(0, DAMAGED, OTHER), "b.bundle", ""),
        (moved(0, OTHER), "", ""),
        (GONE, "", "no folder there"),
        (GONE, "", ""),
        (moved(0, OTHER), "", ""),
        (GONE, "", "no folder there"),
        (moved(), "", ""),
        (moved(0, DAMAGED), "a.bundle", ""),
    ]
    coming = iter(look for look, _, _ in looks)

    def once(asked: Asked, carrier: str, words: str = "") -> Exchanged:
        look = next(coming)
        if isinstance(look, Refused):
            raise look
        return look

    monkeypatch.setattr(carrying, "exchange_once", once)
    watched = Watched(Asked(farm_folder=str(tmp_path), as_json=as_json), "stick")
    for _, out, err in looks:
        watched.look()
        told = capsys.readouterr()
        assert (out in told.out) if out else not told.out
        assert (err in told.err) if err else not told.err
