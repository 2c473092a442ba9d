"""Real small file systems in a file, mounted for a test: FAT, exFAT and ext4, by the kernel or through FUSE.

Where this machine cannot mount one, the test is skipped with the reason.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from scenarios.beside import bound

KINDS = ("fat", "exfat", "ext4")
MOUNT_S = 10.0
_MAKE = {"fat": "mkfs.vfat", "exfat": "mkfs.exfat", "ext4": "mkfs.ext4"}
_KERNEL = {"fat": "vfat", "exfat": "exfat", "ext4": "ext4"}
_FUSE = {"fat": "fusefat", "exfat": "mount.exfat-fuse"}
_PATH = "/usr/sbin:/sbin:/usr/local/sbin"


def found(program: str) -> str | None:
    return shutil.which(program) or shutil.which(program, path=_PATH)


class Medium:
    """A file system in a file; ``folder`` is where it is seen while it is plugged in."""

    def __init__(self, kind: str, folder: Path, size: int) -> None:
        self.kind = kind
        self.folder = folder / "stick"
        self.folder.mkdir()
        self._image = folder / f"{kind}.img"
        self._daemon: subprocess.Popen[bytes] | None = None
        self._device = ""
        make = found(_MAKE[kind])
        if make is None:
            pytest.skip(f"{_MAKE[kind]} is not installed")
        if os.geteuid() != 0:
            pytest.skip("only the administrator may mount a file system")
        with self._image.open("wb") as file:
            file.truncate(size)
        quiet = ["-q", "-F", "-m", "0"] if kind == "ext4" else []
        done = subprocess.run([make, *quiet, str(self._image)], capture_output=True)
        if done.returncode:
            pytest.skip(f"{_MAKE[kind]} cannot make one here")

    def plug_in(self, *, read_only: bool = False) -> None:
        """Mount it. Skips the test where neither the kernel nor FUSE can."""
        how = "ro" if read_only else "rw"
        words = ["mount", "-o", f"loop,{how}", "-t", _KERNEL[self.kind]]
        done = subprocess.run([*words, str(self._image), str(self.folder)], capture_output=True)
        if done.returncode == 0:
            return
        fuse = found(_FUSE.get(self.kind, "")) if self.kind in _FUSE else None
        if fuse is None:
            pytest.skip(f"this machine can mount no {self.kind} file system")
        # Each in the foreground, to be killed as a stick is pulled.
        option = {"fat": "ro" if read_only else "rw+", "exfat": how}[self.kind]
        front = ["-f"] if self.kind == "fat" else ["-d"]
        self._daemon = subprocess.Popen(
            bound([fuse, *front, "-o", option, self._looped(), str(self.folder)], "TERM"),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        end = time.monotonic() + MOUNT_S
        while not os.path.ismount(self.folder):
            if self._daemon.poll() is not None or time.monotonic() > end:
                self.take_out()
                pytest.skip(f"FUSE mounts no {self.kind} file system here")
            time.sleep(0.02)

    @property
    def pullable(self) -> bool:
        """Whether it can be pulled out from under a write: a FUSE file system can."""
        return self._daemon is not None

    def unplug(self) -> None:
        """Unmount it, everything written."""
        for _ in range(50):
            if subprocess.run(["umount", str(self.folder)], capture_output=True).returncode == 0:
                break
            time.sleep(0.1)
        if self._daemon is not None:
            self._daemon.wait(MOUNT_S)
            self._daemon = None
        self._unlooped()

    def pull(self) -> None:
        """Pull it out: what was not written yet never is, and whoever asks meets a fault."""
        if self._daemon is not None:
            self._daemon.kill()
            self._daemon.wait(MOUNT_S)
            self._daemon = None

    def take_out(self) -> None:
        """Leave nothing of it mounted or running."""
        self.pull()
        subprocess.run(["umount", "-l", str(self.folder)], capture_output=True)
        self._unlooped()

    def _looped(self) -> str:
        """What FUSE is to open: the file itself, or for exFAT a device that stands for it."""
        if self.kind != "exfat":
            return str(self._image)
        done = subprocess.run(
            ["losetup", "-f", "--show", str(self._image)], capture_output=True, text=True
        )
        self._device = done.stdout.strip()
        return self._device or str(self._image)

    def _unlooped(self) -> None:
        if self._device:
            subprocess.run(["losetup", "-d", self._device], capture_output=True)
            self._device = ""


@contextmanager
def medium(kind: str, folder: Path, size: int) -> Iterator[Medium]:
    """A medium, plugged in, and pulled out with the block."""
    one = Medium(kind, folder, size)
    try:
        one.plug_in()
        yield one
    finally:
        one.take_out()
