"""Fonts on this computer, for papers in letters beyond western Europe: where they are, best first.

Only looked for when a paper needs one. What letters a font has is not known here.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from herdsync.papers.as_pdf import Face
from herdsync.wall import environment

FILES_MOST = 5_000
# Plain and bold by file name, those with many letters first; what systems bring along.
_FACES = (
    ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf"),
    ("NotoSans-Regular.ttf", "NotoSans-Bold.ttf"),
    ("segoeui.ttf", "segoeuib.ttf"),
    ("arial.ttf", "arialbd.ttf"),
    ("Arial.ttf", "Arial Bold.ttf"),
    ("LiberationSans-Regular.ttf", "LiberationSans-Bold.ttf"),
    ("FreeSans.ttf", "FreeSansBold.ttf"),
    ("Arial Unicode.ttf", ""),
    ("NotoSansCJK-Regular.ttf", ""),
    ("DroidSansFallbackFull.ttf", ""),
    ("unifont.ttf", ""),
)  # fmt: skip


def folders() -> list[Path]:
    """Where systems keep fonts."""
    home = Path.home()
    windows = environment("WINDIR")
    return [
        home / ".local/share/fonts", home / ".fonts", Path("/usr/local/share/fonts"),
        Path("/usr/share/fonts"), home / "Library/Fonts", Path("/Library/Fonts"),
        Path("/System/Library/Fonts"), *([Path(windows) / "Fonts"] if windows else []),
    ]  # fmt: skip


def faces() -> list[Face]:
    """The fonts that are here, best first."""
    there: dict[str, Path] = {}
    for file in _files():
        there.setdefault(file.name, file)
    return [
        Face(str(there[plain]), str(there[bold]) if bold in there else "")
        for plain, bold in _FACES
        if plain in there
    ]


def _files() -> Iterator[Path]:
    seen = 0
    for folder in folders():
        for place, _, names in os.walk(folder):
            for name in names:
                seen += 1
                if seen > FILES_MOST:
                    return
                yield Path(place) / name
