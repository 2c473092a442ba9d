"""What the same machine does with the same libraries and nothing of ours, in the same run."""

from __future__ import annotations

import hashlib
import resource
import shutil
import sqlite3
import statistics
import subprocess
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import msgspec

from herdsync.log.entry import Entry, pack, signed_bytes
from herdsync.log.signing import verifies


def processor_s() -> float:
    """Seconds of processor time this process and those it waited for have spent."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


ROW = "CREATE TABLE entry (pos INTEGER PRIMARY KEY, id BLOB NOT NULL UNIQUE, packed BLOB NOT NULL)"


def _plain(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute(ROW)
    return connection


def durable_insert_ms(folder: Path, entries: list[Entry]) -> tuple[float, float]:
    """Median milliseconds of one row in one durable transaction of plain SQLite: clock, processor."""
    taken, worked = [], []
    with closing(_plain(folder / "floor.db")) as connection:
        for entry in entries[:200]:
            packed = pack(entry)
            begun, working = time.perf_counter(), processor_s()
            connection.execute("BEGIN IMMEDIATE")
            connection.execute("INSERT INTO entry (id, packed) VALUES (?, ?)", (entry.id, packed))
            connection.execute("COMMIT")
            taken.append((time.perf_counter() - begun) * 1000)
            worked.append((processor_s() - working) * 1000)
    return statistics.median(taken), statistics.median(worked)


def bulk_inserts(folder: Path, entries: list[Entry]) -> float:
    """Rows a second, a thousand in a transaction."""
    rows = [(entry.id, pack(entry)) for entry in entries]
    with closing(_plain(folder / "bulk.db")) as connection:

        def insert() -> None:
            for at in range(0, len(rows), 1_000):
                connection.execute("BEGIN IMMEDIATE")
                connection.executemany(
                    "INSERT INTO entry (id, packed) VALUES (?, ?)", rows[at : at + 1_000]
                )
                connection.execute("COMMIT")

        return _rate(insert, len(rows))


def verifications(entries: list[Entry]) -> float:
    """Ed25519 verifications a second on one core."""
    told = [(one.header.device, one.signature, signed_bytes(one.id)) for one in entries[:4_000]]
    return _rate(lambda: [verifies(*one) for one in told], len(told))


def hashes(entries: list[Entry]) -> float:
    """SHA-256 of one header after the other, a second."""
    headers = [one.header_bytes for one in entries]
    return _rate(lambda: [hashlib.sha256(one).digest() for one in headers], len(headers))


def decodings(entries: list[Entry]) -> float:
    """Bodies decoded a second, without any shape."""
    bodies, decode = [one.body_bytes for one in entries], msgspec.msgpack.Decoder().decode
    return _rate(lambda: [decode(one) for one in bodies], len(bodies))


def git_rates(folder: Path, entries: list[Entry]) -> dict[str, float]:
    """Commits a second that git takes in from a stream, and from another folder; nothing without git."""
    git = shutil.which("git")
    if git is None:
        return {}
    first, other = folder / "first.git", folder / "other.git"
    for place in (first, other):
        subprocess.run([git, "init", "-q", "--bare", place], check=True)
    told = b"".join(map(_commit, entries))
    taking = [git, "-C", str(first), "fast-import", "--quiet"]
    fetching = [git, "-C", str(other), "fetch", "-q", str(first), "farm:farm"]
    return {
        "git fast-import, commits/s": _rate(
            lambda: subprocess.run(taking, input=told, check=True), len(entries)
        ),
        "git fetch, commits/s": _rate(lambda: subprocess.run(fetching, check=True), len(entries)),
    }


def _commit(entry: Entry) -> bytes:
    """An act as git would keep it: one commit that changes one small file."""
    at = entry.header.clock // 1000
    return (
        (
            f"commit refs/heads/farm\ncommitter Oda <oda@quillmoor.example> {at} +0000\n"
            f"data 3\nact\nM 100644 inline {entry.header.kind}\ndata {len(entry.body_bytes)}\n"
        ).encode()
        + entry.body_bytes
        + b"\n"
    )


def _rate(work: Callable[[], object], count: int) -> float:
    begun = processor_s()
    work()
    return count / (processor_s() - begun)
