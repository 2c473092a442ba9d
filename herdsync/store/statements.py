"""What the shelf in tables asks of them, as statements of SQLite."""

from __future__ import annotations

# What is kept of a record: its state, or the entry that is its state.
_KEPT = "r.state, e.pos, e.id, e.chain, e.seq, e.packed, e.sum"
_JOINED = """
LEFT JOIN derived_record r ON r.id = n.record
LEFT JOIN entry e ON r.id IS NULL AND substr(e.id, 1, 16) = n.record
"""
PLACES = "SELECT kind, at, record FROM derived_naming WHERE ref = :ref"
# Seeks from kind to kind and takes the end of each: the same cost however long a history is.
_KINDS = """
WITH RECURSIVE told(kind) AS (
    SELECT min(kind) FROM derived_naming WHERE ref = :ref
    UNION ALL
    SELECT (SELECT min(kind) FROM derived_naming WHERE ref = :ref AND kind > told.kind)
    FROM told WHERE told.kind IS NOT NULL
)
"""
_ENDS = """
FROM told
JOIN derived_naming n ON n.ref = :ref AND n.kind = told.kind AND n.at >= coalesce((
    SELECT at FROM derived_naming WHERE ref = :ref AND kind = told.kind
    ORDER BY at DESC LIMIT 1 OFFSET :most - 1
), -9223372036854775808)
"""
RECENT_PLACES = f"{_KINDS} SELECT n.kind, n.at, n.record {_ENDS}"
# The newest of each kind comes with its state, for it is nearly always asked for.
RECENT = f"""
{_KINDS} SELECT n.kind, n.at, n.record, {_KEPT} {_ENDS}
LEFT JOIN derived_record r ON r.id = n.record
    AND n.at = (SELECT max(at) FROM derived_naming WHERE ref = :ref AND kind = told.kind)
LEFT JOIN entry e ON r.id IS NULL AND substr(e.id, 1, 16) = n.record
    AND n.at = (SELECT max(at) FROM derived_naming WHERE ref = :ref AND kind = told.kind)
"""
NEWEST = f"""
SELECT n.at, n.record, {_KEPT} FROM derived_naming n {_JOINED}
WHERE n.ref = ?1 AND n.kind = ?2 ORDER BY n.at DESC, n.record DESC LIMIT ?3
"""
NAMING = f"""
SELECT n.at, n.record, {_KEPT} FROM derived_naming n {_JOINED}
WHERE n.ref = ?1 AND (?2 IS NULL OR n.kind = ?2)
"""
WITHIN = """
SELECT at, record FROM derived_naming WHERE ref = ?1 AND kind = ?2 AND at BETWEEN ?3 AND ?4
UNION ALL SELECT at, record FROM derived_naming WHERE ref = ?1 AND kind = ?2 AND at IN (?5, ?6)
"""
ONE = f"SELECT {_KEPT} FROM (SELECT ?1 AS record) n {_JOINED}"


def several(records: int) -> str:
    """What is kept of so many records, each behind its id."""
    values = ", ".join(["(?)"] * records)
    return f"WITH n (record) AS (VALUES {values}) SELECT n.record, {_KEPT} FROM n {_JOINED}"


def between(spans: int) -> str:
    """What lies in so many spans: (place, ref, kind, first, last) each."""
    values = ", ".join(["(?, ?, ?, ?, ?)"] * spans)
    return (
        f"WITH span (place, ref, kind, first, last) AS (VALUES {values}) "
        "SELECT place, at, record FROM span CROSS JOIN derived_naming n "
        "WHERE n.ref = span.ref AND n.kind = span.kind AND at BETWEEN first AND last"
    )
