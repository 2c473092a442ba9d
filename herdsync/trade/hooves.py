"""Hooves: how many days may lie between two trims. What is due when stands in the care plan."""

from __future__ import annotations

# Common practice, no published source: about every two months. Two hoof-trimming articles agree
# (every two to three months; not under three a year); wet ground shortens it, rock lengthens it.
TRIM_INTERVAL_DAYS = 56
TRIM_LEAST_DAYS = 28
TRIM_MOST_DAYS = 90
