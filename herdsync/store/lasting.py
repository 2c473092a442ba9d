"""Names that last: a folder's new and moved names are on the disk before anyone is told of them.

Must not know what the files are.
"""

from __future__ import annotations

import contextlib
import os
from pathlib import Path


def make_folder(folder: Path, mode: int = 0o777) -> None:
    """Make a folder and those above it that are missing, durably. Raises OSError."""
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    folder.mkdir(mode=mode, parents=True, exist_ok=True)
    for one in missing:
        sync_folder(one.parent)


def move_into_place(aside: Path, path: Path) -> None:
    """Give a file, whose bytes are synced, its final name in place of what had it. Raises OSError."""
    aside.replace(path)
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Make a folder's names durable, where the system can sync a folder at all."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
