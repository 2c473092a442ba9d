"""The long simulation: ``python -m tests.sim --runs 2000``, ``--seed N --steps M``, ``--play FILE``."""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

from tests.sim.play import Outcome, Play, drawn, played, shortened


def main() -> int:
    """Run what was asked for; 1 where a promise was broken."""
    ask = argparse.ArgumentParser(prog="python -m tests.sim", description=__doc__)
    ask.add_argument("--seed", type=int, help="one seed, or the first of --runs")
    ask.add_argument("--steps", type=int, default=60, help="steps in a play")
    ask.add_argument("--runs", type=int, default=1, help="how many seeds")
    ask.add_argument("--play", type=Path, help="a play that was kept")
    ask.add_argument("--thorough", action="store_true", help="the slow model after every step")
    ask.add_argument("--keep", type=Path, help="folder for shortened plays")
    ask.add_argument("--trace", action="store_true", help="print every step")
    ask.add_argument("--quick-to-tell", action="store_true", help="do not shorten what fails")
    told = ask.parse_args()
    if told.play is not None:
        plays = [Play.decode(told.play.read_text())]
    else:
        first = told.seed or 0
        plays = [drawn(first + number, told.steps) for number in range(told.runs)]
    begun, hits, entries, failed = time.monotonic(), Counter[str](), 0, 0
    for play in plays:
        outcome = played(play, thorough=told.thorough or told.play is not None)
        hits += outcome.hits
        entries += outcome.entries
        if told.trace:
            print("\n".join(outcome.lines))
        if outcome.fault:
            failed += 1
            _tell(outcome, told.keep, short=not told.quick_to_tell)
        elif len(plays) == 1:
            print(f"trace {outcome.trace}")
    _sum_up(len(plays), failed, entries, hits, time.monotonic() - begun)
    return 1 if failed else 0


def _tell(outcome: Outcome, keep: Path | None, *, short: bool) -> None:
    play = outcome.play
    print(
        f"commit {_commit()}, seed {play.seed} breaks at step {outcome.at}: {outcome.fault}",
        flush=True,
    )
    if not short:
        return
    least = shortened(play)
    print(f"  shortened to {len(least.play.steps)} steps: {least.fault}")
    print("\n".join(f"  {line}" for line in least.lines))
    print(f"  {least.play.encode()}", flush=True)
    if keep is not None:
        keep.mkdir(parents=True, exist_ok=True)
        (keep / f"seed-{play.seed}.json").write_text(least.play.encode() + "\n")


def _commit() -> str:
    """The commit that was played, as far as git can say."""
    words = ["git", "describe", "--always", "--dirty", "--abbrev=12"]
    try:
        done = subprocess.run(words, capture_output=True, text=True, check=True, timeout=10)
    except (OSError, subprocess.SubprocessError):
        return "unknown"
    return done.stdout.strip()


def _sum_up(runs: int, failed: int, entries: int, hits: Counter[str], seconds: float) -> None:
    print(f"{runs} plays, {failed} broken, {entries} entries, {seconds:.0f} s")
    for name, count in sorted(hits.items()):
        print(f"  {count:>7} {name}")


if __name__ == "__main__":
    sys.exit(main())
