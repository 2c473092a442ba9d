"""What the records mean at a moment: herd, due work, timers, holds, breeding, milk, trail.

Pure functions of records, care plan, settings and a moment. Must not know disk, clock or screens.
"""
