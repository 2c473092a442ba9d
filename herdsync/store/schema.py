"""The tables of a farm's file. ``derived_`` ones can be dropped and folded again at any time."""

from __future__ import annotations

LAYOUT = 4

# An entry is found by the first 16 bytes of its id: they name its claims, and the record it begins.
ENTRY = """
CREATE TABLE entry (
    pos INTEGER PRIMARY KEY,
    id BLOB NOT NULL,
    chain INTEGER NOT NULL,
    seq INTEGER NOT NULL,
    height INTEGER NOT NULL,
    packed BLOB NOT NULL,
    sum INTEGER NOT NULL,
    checked INTEGER NOT NULL,
    UNIQUE (chain, seq)
) STRICT;
CREATE UNIQUE INDEX entry_claim ON entry (substr(id, 1, 16));
CREATE INDEX entry_bad ON entry (checked) WHERE checked = -1;
"""

LOG = (
    ENTRY
    + """
CREATE TABLE chain (
    number INTEGER PRIMARY KEY,
    device BLOB NOT NULL,
    parent INTEGER,
    split INTEGER NOT NULL,
    tip BLOB NOT NULL,
    tip_seq INTEGER NOT NULL,
    tip_height INTEGER NOT NULL,
    first BLOB NOT NULL
) STRICT;
CREATE TABLE contact (
    chain INTEGER NOT NULL,
    seq INTEGER NOT NULL,
    other INTEGER NOT NULL,
    reach INTEGER NOT NULL,
    PRIMARY KEY (chain, seq, other)
) STRICT, WITHOUT ROWID;
CREATE TABLE authority (pos INTEGER PRIMARY KEY) STRICT;
CREATE TABLE parked (
    arrival INTEGER PRIMARY KEY,
    size INTEGER NOT NULL,
    id BLOB NOT NULL UNIQUE,
    header BLOB NOT NULL,
    body BLOB NOT NULL,
    signature BLOB NOT NULL
) STRICT;
CREATE TABLE draft (salt BLOB PRIMARY KEY, id BLOB NOT NULL) STRICT, WITHOUT ROWID;
CREATE TABLE about (name TEXT PRIMARY KEY, value BLOB NOT NULL) STRICT, WITHOUT ROWID;
CREATE TABLE sighting (
    name TEXT NOT NULL, size INTEGER NOT NULL, tail BLOB NOT NULL, told BLOB NOT NULL,
    PRIMARY KEY (name, size, tail)
) STRICT, WITHOUT ROWID;
CREATE TABLE heard (
    device BLOB PRIMARY KEY, told BLOB NOT NULL
) STRICT, WITHOUT ROWID;
"""
)

# A record that one vouched entry makes is not stored again: ``derived_lone`` lists the entry (see
# `lone_places`), and ``derived_touch`` has what else speaks of a record, or of one whose id is not its
# entry's. Kinds are numbers that follow from their names.
DERIVED = """
CREATE TABLE derived_touch (
    record BLOB NOT NULL, pos INTEGER NOT NULL, PRIMARY KEY (record, pos)
) STRICT, WITHOUT ROWID;
CREATE TABLE derived_tie (
    record BLOB NOT NULL, tie BLOB NOT NULL, a BLOB NOT NULL, b BLOB NOT NULL,
    PRIMARY KEY (record, tie)
) STRICT, WITHOUT ROWID;
CREATE TABLE derived_lone (
    kind INTEGER NOT NULL, row INTEGER NOT NULL, places BLOB NOT NULL, PRIMARY KEY (kind, row)
) STRICT, WITHOUT ROWID;
CREATE TABLE derived_record (
    id BLOB PRIMARY KEY, kind INTEGER NOT NULL, state BLOB NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX derived_record_kind ON derived_record (kind);
CREATE TABLE derived_joined (id BLOB PRIMARY KEY, record BLOB NOT NULL) STRICT, WITHOUT ROWID;
CREATE TABLE derived_naming (
    ref BLOB NOT NULL, kind INTEGER NOT NULL, at INTEGER NOT NULL, record BLOB NOT NULL,
    PRIMARY KEY (ref, kind, at, record)
) STRICT, WITHOUT ROWID;
CREATE TABLE derived_conflict (
    scope BLOB NOT NULL, id BLOB NOT NULL, state BLOB NOT NULL, PRIMARY KEY (scope, id)
) STRICT, WITHOUT ROWID;
CREATE TABLE derived_between (id BLOB PRIMARY KEY, state BLOB NOT NULL) STRICT, WITHOUT ROWID;
CREATE TABLE derived_beside (
    record BLOB NOT NULL, conflict BLOB NOT NULL, PRIMARY KEY (record, conflict)
) STRICT, WITHOUT ROWID;
CREATE TABLE derived_accepted (conflict BLOB PRIMARY KEY, entry BLOB NOT NULL) STRICT, WITHOUT ROWID;
CREATE TABLE derived_unread (
    scope BLOB NOT NULL, entry BLOB NOT NULL, told BLOB NOT NULL, PRIMARY KEY (scope, entry)
) STRICT, WITHOUT ROWID;
"""

DERIVED_TABLES = (
    "derived_touch",
    "derived_tie",
    "derived_lone",
    "derived_record",
    "derived_joined",
    "derived_naming",
    "derived_conflict",
    "derived_between",
    "derived_beside",
    "derived_accepted",
    "derived_unread",
)
