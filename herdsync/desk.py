"""What a keeper's own desk remembers from run to run: the look, the carrier of each farm, moved keys.

Kept in the user's configuration folder, never in a farm; losing it loses a convenience and no record.
Must not know records, keys of devices, or any widget.
"""

from __future__ import annotations

import json
import os
import tomllib
from contextlib import suppress
from pathlib import Path
from typing import Any

import platformdirs

from herdsync import wall

DESK_VARIABLE = "HERDSYNC_DESK"
FILE = "desk.json"
KEYS_FILE = "keys.toml"
TEXT_MOST = 1_000
FARMS_MOST = 50


class Desk:
    """Choices of one person on one machine. Without a folder it remembers only for this run."""

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder
        self.look = ""
        self._carriers: dict[str, str] = {}
        self._by_itself: dict[str, bool] = {}

    @classmethod
    def here(cls) -> Desk:
        """This person's desk: in the folder HERDSYNC_DESK names, else in the user's own."""
        told = wall.environment(DESK_VARIABLE)
        desk = cls(Path(told) if told else Path(platformdirs.user_config_dir("herdsync")))
        desk._read()
        return desk

    def carrier(self, farm: Path) -> str:
        """The carrier last used for the farm in a folder, as it was typed; empty for none."""
        return self._carriers.get(_key(farm), "")

    def by_itself(self, farm: Path) -> bool:
        """Whether the dashboard exchanges through that carrier by itself."""
        return self._by_itself.get(_key(farm), True)

    def use_carrier(self, farm: Path, carrier: str, *, by_itself: bool | None = None) -> None:
        """Remember a farm's carrier, and whether to exchange through it without being asked."""
        key = _key(farm)
        self._carriers.pop(key, None)
        self._carriers[key] = carrier
        if by_itself is not None:
            self._by_itself[key] = by_itself
        for oldest in list(self._carriers)[:-FARMS_MOST]:
            del self._carriers[oldest]
        self._write()

    def use_look(self, look: str) -> None:
        """Remember the look."""
        self.look = look
        self._write()

    def moved_keys(self) -> tuple[dict[str, str], str]:
        """Keys by deed from ``keys.toml``, and a sentence where it cannot be read.

        A line is ``deed = "key"`` or ``"place.deed" = "key"``; several keys are parted by commas.
        """
        if self._folder is None:
            return {}, ""
        path = self._folder / KEYS_FILE
        try:
            told = tomllib.loads(path.read_text("utf-8"))
        except FileNotFoundError:
            return {}, ""
        except (OSError, ValueError) as fault:
            return {}, f"{path} could not be read ({fault}): the usual keys count."
        return {name: key for name, key in _flat(told).items() if _is_text(key)}, ""

    def _read(self) -> None:
        assert self._folder is not None, "only a desk with a folder is read"
        # A desk that cannot be read is a fresh one: nothing of the farm rests on it.
        with suppress(OSError, ValueError):
            told = json.loads((self._folder / FILE).read_text("utf-8"))
            if not isinstance(told, dict):
                return
            self.look = told["look"] if _is_text(told.get("look")) else ""
            carriers, by_itself = told.get("carriers"), told.get("by_itself")
            if isinstance(carriers, dict):
                self._carriers = {key: one for key, one in carriers.items() if _is_text(one)}
            if isinstance(by_itself, dict):
                self._by_itself = {key: one is True for key, one in by_itself.items()}

    def _write(self) -> None:
        if self._folder is None:
            return
        kept = {key: one for key, one in self._by_itself.items() if key in self._carriers}
        told = {"look": self.look, "carriers": self._carriers, "by_itself": kept}
        with suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            fresh = self._folder / f"{FILE}.{os.getpid()}"
            fresh.write_text(json.dumps(told, indent=1), "utf-8")
            fresh.replace(self._folder / FILE)


def carrier_mark(carrier: str) -> str:
    """What tells a carrier's folder from itself before a change; empty where it is not there."""
    try:
        with os.scandir(Path(carrier).expanduser()) as found:
            return repr(sorted((one.name, one.stat().st_size) for one in found)) or "[]"
    except OSError:
        return ""


def _key(farm: Path) -> str:
    return str(farm.expanduser().absolute())


def _is_text(told: Any) -> bool:
    return isinstance(told, str) and 0 < len(told) <= TEXT_MOST


def _flat(told: dict[str, Any]) -> dict[str, Any]:
    """Tables written as ``[place]`` read like ``"place.deed"``."""
    flat: dict[str, Any] = {}
    for name, one in told.items():
        if isinstance(one, dict):
            flat |= {f"{name}.{inner}": key for inner, key in one.items()}
        else:
            flat[name] = one
    return flat
