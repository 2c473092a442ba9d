"""Merge: from the set of entries to records and disagreements. Laws only.

Everything here is a pure function of the set of entries: no clock, no order of arrival, no disk.
"""
