"""Proofs of the store: nothing acknowledged is lost, nothing is written by half."""
