"""A folder or stick as a carrier: regular files read with suspicion, new ones written durably and once.

No links are followed, no folder is entered, nothing that another laptop wrote is changed or deleted.
Must not know what the files hold.
"""

from __future__ import annotations

import contextlib
import errno
import os
import stat
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO, TypeVar

from herdsync.exchange.carrier import TAIL_BYTES, Shelf
from herdsync.faults import BadBytes, Refused
from herdsync.safe_text import safe_text

T = TypeVar("T")

FILES = 100_000
TEMPORARY = ".tmp"
_UNFINISHED = (TEMPORARY, ".part", ".partial", ".crdownload", "~")
_RANDOM_BYTES = 6

# A pipe must not make us wait, a link must not lead us elsewhere.
_READ_FLAGS = (
    os.O_RDONLY
    | getattr(os, "O_NOFOLLOW", 0)
    | getattr(os, "O_NONBLOCK", 0)
    | getattr(os, "O_CLOEXEC", 0)
    | getattr(os, "O_BINARY", 0)
)
_WRITE_FLAGS = (
    os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)
)
# Readable for a partner with another login on the same machine; what is inside is sealed.
_MODE = 0o666
_NO_FOLDER_SYNC = {
    errno.EINVAL,
    errno.ENOTSUP,
    errno.ENOSYS,
    errno.EBADF,
    errno.EACCES,
    errno.EPERM,
}


class Folder:
    """One folder as a carrier. ``entropy`` answers so many random bytes, for temporary names."""

    what = "the folder"

    def __init__(self, path: Path, entropy: Callable[[int], bytes]) -> None:
        self.path = path
        self._entropy = entropy

    def names(self) -> Shelf:
        """The regular files that are neither hidden nor unfinished, sorted. Raises Refused."""
        found: list[str] = []
        notes: list[str] = []
        try:
            with os.scandir(self.path) as listing:
                for one in listing:
                    if len(found) >= FILES:
                        notes.append(
                            f"The folder holds more than {FILES:,} files; the rest was not looked at. "
                            "Use a folder of its own for the exchange."
                        )
                        break
                    if not passed_over(one.name) and _regular(one):
                        found.append(one.name)
        except (FileNotFoundError, NotADirectoryError) as fault:
            raise Refused(
                f"There is no folder {safe_text(str(self.path))}.",
                "Plug the stick in or start the shared folder, then try again.",
            ) from fault
        except OSError as fault:
            raise Refused(
                f"The folder {safe_text(str(self.path))} cannot be looked into ({_reason(fault)}).",
                "See whether it is plugged in and may be read.",
            ) from fault
        return Shelf(sorted(found), notes)

    def tail(self, name: str) -> tuple[int, bytes] | None:
        """A file's size and last 32 bytes; None where it is gone. Raises BadBytes."""

        def last(file: BinaryIO) -> tuple[int, bytes]:
            size = file.seek(0, os.SEEK_END)
            file.seek(max(0, size - TAIL_BYTES))
            return size, file.read(TAIL_BYTES)

        return self._reading(name, last)

    def head(self, name: str, most: int) -> bytes | None:
        """A file's first bytes; None where it is gone. Raises BadBytes."""
        return self._reading(name, lambda file: file.read(most))

    def read(self, name: str, most: int) -> bytes | None:
        """A file's bytes, at most one more than ``most``; None where it is gone. Raises BadBytes."""
        return self._reading(name, lambda file: file.read(most + 1))

    def create(self, name: str, data: bytes) -> bool:
        """Write a new file: aside, synced, read back, then named, never over another. Raises Refused."""
        try:
            return self._create(name, data)
        except OSError as fault:
            raise Refused(
                f"The folder {safe_text(str(self.path))} cannot be written ({_reason(fault)}); "
                "what it held was read.",
                "See whether it is full, write-protected or unplugged, then exchange again.",
            ) from fault

    def _create(self, name: str, data: bytes) -> bool:
        final = self.path / name
        if os.path.lexists(final):
            return False
        aside = self.path / f".{name}-{self._entropy(_RANDOM_BYTES).hex()}{TEMPORARY}"
        try:
            _write_new(aside, data)
            created = _named(aside, final, data)
        finally:
            with contextlib.suppress(OSError):
                aside.unlink()
        if created:
            _sync_folder(self.path)
        return created

    def sweep(self, stem: str) -> None:
        """Delete what a power cut left of this device's own unfinished files (names begin with ``stem``)."""
        with contextlib.suppress(OSError), os.scandir(self.path) as listing:
            for one in listing:
                own = one.name.startswith(f".{stem}") and one.name.endswith(TEMPORARY)
                if own and _regular(one):
                    with contextlib.suppress(OSError):
                        (self.path / one.name).unlink()

    def remove(self, name: str) -> None:
        """Take a file of one's own away; that it is gone already, or cannot be, is no fault."""
        with contextlib.suppress(OSError):
            (self.path / name).unlink()

    def _reading(self, name: str, look: Callable[[BinaryIO], T]) -> T | None:
        try:
            with os.fdopen(os.open(self.path / name, _READ_FLAGS), "rb") as file:
                if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                    raise BadBytes("It is not a plain file.")
                return look(file)
        except FileNotFoundError:
            return None
        except OSError as fault:
            raise BadBytes(
                f"It cannot be read ({_reason(fault)}).", "It is tried again at each exchange."
            ) from fault


def passed_over(name: str) -> bool:
    """Whether a name says that its file is hidden or not finished."""
    return name.startswith((".", "~")) or name.lower().endswith(_UNFINISHED)


def _regular(one: os.DirEntry[str]) -> bool:
    try:
        return one.is_file(follow_symlinks=False)
    except OSError:
        return False


def _reason(fault: OSError) -> str:
    return (fault.strerror or type(fault).__name__).lower()


def _named(aside: Path, final: Path, data: bytes) -> bool:
    """Give a finished file its name, or answer False where the name was taken meanwhile."""
    try:
        os.link(aside, final)
    except FileExistsError:
        return False
    except OSError:
        # FAT, exFAT and some shares know no hard links: creating exclusively keeps the promise that
        # nothing is replaced, reading back the promise that it is whole.
        try:
            _write_new(final, data)
        except FileExistsError:
            return False
    return True


def _write_new(path: Path, data: bytes) -> None:
    """Create a file that must not exist, synced and read back. On any fault it is gone again."""
    handle = os.open(path, _WRITE_FLAGS, _MODE)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
            if hasattr(os, "posix_fadvise"):
                # Otherwise the reading back would be answered from memory.
                os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        if path.read_bytes() != data:
            raise OSError(errno.EIO, "what was read back differs from what was written")
    except BaseException:
        with contextlib.suppress(OSError):
            path.unlink()
        raise


def _sync_folder(path: Path) -> None:
    """Make a new name durable, where the system can sync a folder at all."""
    try:
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    except OSError as fault:
        if fault.errno not in _NO_FOLDER_SYNC:
            raise
