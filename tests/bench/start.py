"""What a whole command costs: ``python -m tests.bench.start [--farm DIR] [verb ...]``.

Each verb is run as a process of its own and set beside bare Python that imports the same modules of
the standard library; both by turns, in processor time of the process and all it did, medians. Without
--farm it makes the demo farm. Prints; asserts nothing.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

RUNS = 7
VERBS = ("due", "timers", "herd", "show Agate", "conflicts", "trail Agate", "find agate", "kinds")
# Run the verb as the console command does, then tell which modules of the standard library are there.
LOADED = """
import io, sys
kept, sys.stdout = sys.stdout, io.TextIOWrapper(io.BytesIO())
from herdsync.start import main
try:
    main()
except SystemExit:
    pass
own = sys.stdlib_module_names
print(*(one for one in sys.modules if one.split(".")[0] in own and one != "__main__"), file=kept)
"""
BARE = """
import importlib, sys
for one in sys.argv[1:]:
    try:
        importlib.import_module(one)
    except ImportError:
        pass
"""


def processor_ms(words: Sequence[str]) -> float:
    """Milliseconds of processor time of one process that ends well."""
    running = subprocess.Popen([sys.executable, *words], stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(running.pid, 0)
    assert status == 0, words
    return (used.ru_utime + used.ru_stime) * 1000


def compared(verb: Sequence[str]) -> tuple[float, float, int]:
    """A verb's own milliseconds, those of bare Python with the same modules, and how many these are."""
    loaded = subprocess.run(
        [sys.executable, "-c", LOADED, *verb], capture_output=True, text=True, check=True
    ).stdout.split()
    own, bare = [], []
    for _ in range(RUNS):
        bare.append(processor_ms(["-c", BARE, *loaded]))
        own.append(processor_ms(["-m", "herdsync.start", *verb]))
    return statistics.median(own), statistics.median(bare), len(loaded)


def main() -> None:
    """One line a verb."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--farm", type=Path)
    asked.add_argument("verbs", nargs="*", default=VERBS)
    told = asked.parse_args()
    # A keeper's program is compiled once, at the first start.
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    with tempfile.TemporaryDirectory() as folder:
        if told.farm is None:
            os.environ["HERDSYNC_KEYS"] = str(Path(folder) / "keys")
            make = ["-m", "herdsync.start", "demo", str(Path(folder) / "demo"), "--no-open"]
            processor_ms(make)
        os.environ["HERDSYNC_FARM"] = str(told.farm or Path(folder) / "demo" / "house")
        for verb in told.verbs:
            own, bare, modules = compared(verb.split())
            print(
                f"{verb:<14} {own:5.0f} ms, {own / bare:.2f} times bare Python"
                f" with the same {modules} modules ({bare:.0f} ms)",
                flush=True,
            )


if __name__ == "__main__":
    main()
