"""The command line: one file per family of verbs, each thin; all they know comes from the door.

Rules, folding and bytes stay out of here: a verb reads words, asks the farm once, and prints.
"""
