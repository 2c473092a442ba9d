"""The arithmetic of the trade. Pure, typed, exact; imports nothing of ours."""
