"""What a keeper can write down: the kinds of record, their fields, and how each is read and kept.

One file per family of kinds; ``CATALOGUE`` holds them all. Must not know entries, merging or disk.
"""

from __future__ import annotations

from herdsync.kinds.catalogue import CATALOGUE, kind_named
from herdsync.kinds.forms import Form, Json, Reading, Value
from herdsync.kinds.kind import Field, Kind, PairRule, check_fields, parse_fields

__all__ = [
    "CATALOGUE",
    "Field",
    "Form",
    "Json",
    "Kind",
    "PairRule",
    "Reading",
    "Value",
    "check_fields",
    "kind_named",
    "parse_fields",
]
