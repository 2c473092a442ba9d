"""The recovery words off their sheet: from a file, or typed unseen; never from the command line."""

from __future__ import annotations

from pathlib import Path

import click

from herdsync.faults import Refused

WORDS_BYTES = 2_000
ASK = "ask"


def recovery_words(text: str) -> str:
    """The words that ``text`` (@FILE, or nothing or 'ask' to type them unseen) means. Raises Refused."""
    if text in ("", ASK):
        return str(click.prompt("The 24 recovery words, in order", hide_input=True, err=True))
    if not text.startswith("@"):
        raise Refused(
            "The words are not given on the command line, where others could read them.",
            f"Write --words {ASK} to type them unseen, or --words @FILE.",
        )
    try:
        with Path(text[1:]).expanduser().open("rb") as file:
            return file.read(WORDS_BYTES).decode("utf-8")
    except (OSError, UnicodeDecodeError) as fault:
        raise Refused(
            f"The words could not be read from {text[1:]}.", "Name their file."
        ) from fault
