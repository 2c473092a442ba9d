"""Proofs of the merge: same entries, same records, nothing lost, safety only lengthened."""
