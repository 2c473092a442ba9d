"""The console command: the streams made safe for any letter, then the command line.

Dashboard and stories are imported only by the verbs that ask for them.
"""

from __future__ import annotations

import gc
import io
import sys

# What a command makes, classes and records, mostly lasts until it ends: the collector looks less often.
COLLECT_AFTER = (100_000, 50, 100)


def main() -> None:
    """Run what was typed and exit with its code."""
    gc.set_threshold(*COLLECT_AFTER)
    from herdsync.cli.command import run_words

    for stream in (sys.stdout, sys.stderr):
        # A terminal that lacks a letter gets its escape, never a crash in the middle of an answer.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    try:
        code = run_words(sys.argv[1:])
        sys.stdout.flush()
    except BrokenPipeError:
        # Whoever read the answer (head, a pager) has enough of it.
        sys.stderr.close()
        code = 0
    sys.exit(code)


if __name__ == "__main__":
    main()
