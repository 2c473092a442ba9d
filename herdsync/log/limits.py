"""Bounds of everything read from elsewhere, each checked before any signature."""

from __future__ import annotations

# What is written, for good. Version 0 came before it and differs in nothing but the number.
FORMAT_VERSION = 1
READ_VERSIONS = frozenset((0, 1))
HEADER_BYTES = 16_384
BODY_BYTES = 65_536
ENTRY_BYTES = HEADER_BYTES + BODY_BYTES + 256
PARENTS = 32
SUBJECTS = 256
SEQUENCE = 2**48 - 1
HEIGHT = 2**53 - 1
CLOCK_MS = 2**53 - 1
# A set told anew nests deepest: body, payload, claims, told, values, change, drops, drop, claim ids.
DEPTH = 10
NODES = 4_096
PARKED_ENTRIES = 10_000
PARKED_BYTES = 64 * 1024 * 1024
BATCH_ALL_CHECKED = 1_000
