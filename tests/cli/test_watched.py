"""What a watch says: what moves, and each refusal or fault once, not at every look."""

from __future__ import annotations

from pathlib import Path

import pytest

from herdsync.answers import Setback
from herdsync.cli import carrying
from herdsync.cli.asking import Asked
from herdsync.cli.carrying import Watched
from herdsync.faults import Refused
from herdsync.meetings import Exchanged, Notice

DAMAGED = Setback("file a.bundle", "It does not authenticate.")
OTHER = Setback("file b.bundle", "It is empty.")
GONE = Refused("There is no folder there.", "Plug the stick in.")


SILENT = Notice("laptop barn", "Nothing has been heard of it since it was let in.")


def moved(received: int = 0, *told: Setback | Notice) -> Exchanged:
    refused = [one for one in told if isinstance(one, Setback)]
    noticed = [one for one in told if isinstance(one, Notice)]
    return Exchanged(0, received, 0, refused, 0, noticed=noticed)


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
        (moved(1, DAMAGED), "a.bundle" if as_json else "received 1", ""),
        (moved(0, DAMAGED, OTHER), "b.bundle", ""),
        (moved(0, OTHER, SILENT), "laptop barn", ""),
        (moved(0, OTHER, SILENT), "", ""),
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
        # What was said before is said no more; as JSON an answer is always whole.
        assert as_json or out == "a.bundle" or "a.bundle" not in told.out
