"""From what a keeper asks to the acts that say it: naming records, citing claims, undoing."""
