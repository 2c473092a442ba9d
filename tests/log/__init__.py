"""Proofs of the log: bytes, signatures, chains, who may write."""
