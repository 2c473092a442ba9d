"""What version 1 wrote, kept for good: every stored and exchanged form, and a whole farm."""
