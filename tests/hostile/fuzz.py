"""Coverage-guided input for every decoder: ``python -m tests.hostile.fuzz [--seconds 60] [FORM ...]``.

For development: needs atheris (``pip install atheris``), which is in no extra of this project. Each form
begins from its sound sample alone and is tried in a process of its own; what breaks a reader is written to
``crash-*`` in the folder named by ``--keep``. Only BadBytes and Refused may come out of a reader, and of a
signed or sealed form nothing but the sound sample may be taken.
"""

from __future__ import annotations

import argparse
import importlib
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

MOST_BYTES = 20_000


def main() -> int:
    """Fuzz what was asked for; 1 where a reader broke."""
    ask = argparse.ArgumentParser(prog="python -m tests.hostile.fuzz", description=__doc__)
    ask.add_argument("forms", nargs="*", help="names of forms (all)")
    ask.add_argument("--seconds", type=int, default=60, help="for each form")
    ask.add_argument(
        "--keep", type=Path, default=Path(), help="folder for inputs that break a reader"
    )
    ask.add_argument("--alone", action="store_true", help=argparse.SUPPRESS)
    told = ask.parse_args()
    if told.alone:
        fuzz(told.forms[0], told.seconds, told.keep)
    from tests.hostile.forms import FORMS, UNSIGNED

    broken = 0
    for name in told.forms or [form.name for form in (*FORMS, *UNSIGNED)]:
        words = [sys.executable, "-m", "tests.hostile.fuzz", "--alone", name]
        words += ["--seconds", str(told.seconds), "--keep", str(told.keep)]
        done = subprocess.run(words, capture_output=True, text=True, check=False)
        broken += done.returncode != 0
        lines = [line for line in done.stderr.splitlines() if "DONE" in line or "Done" in line]
        print(name, "holds" if done.returncode == 0 else f"BREAKS\n{done.stderr[-3000:]}", *lines[-2:],
              flush=True)  # fmt: skip
    return 1 if broken else 0


def fuzz(name: str, seconds: int, keep: Path) -> None:
    """Fuzz one form in this process, which ends with it."""
    atheris: Any = importlib.import_module("atheris")
    with atheris.instrument_imports(include=["herdsync"]):
        forms = importlib.import_module("tests.hostile.forms")
    faults = importlib.import_module("herdsync.faults")
    form = next(one for one in (*forms.FORMS, *forms.UNSIGNED) if one.name == name)
    refusals = (faults.BadBytes, faults.Refused)

    def once(raw: bytes) -> None:
        try:
            form.reads(raw)
        except refusals:
            return
        if form.proven and raw != form.sound:
            raise AssertionError(f"another {name} was taken for the sound one")

    with tempfile.TemporaryDirectory() as corpus:
        (Path(corpus) / "sound").write_bytes(form.sound)
        bounds = [
            f"-max_total_time={seconds}",
            f"-max_len={MOST_BYTES}",
            f"-artifact_prefix={keep}/",
        ]
        atheris.Setup([sys.argv[0], *bounds, "-timeout=20", corpus], once)
        atheris.Fuzz()


if __name__ == "__main__":
    sys.exit(main())
