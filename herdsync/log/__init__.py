"""The log: entry format, signatures, chains, causal order, forks, who may write.

Knows nothing of goats, disks or clocks: bytes in, values out.
"""
