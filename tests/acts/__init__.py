"""Proofs of the acts: what a keeper asks cites exactly what was shown."""
