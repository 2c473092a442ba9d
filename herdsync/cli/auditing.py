"""Verbs that prove: trail, proof, verify, devices."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import click

from herdsync.acts.looking import Looking
from herdsync.acts.proving import check_proof
from herdsync.answers import DeviceLine, TrailLine, Verified
from herdsync.cli.asking import Asked, verb
from herdsync.cli.columns import moment, sentence, several, table
from herdsync.kinds import CATALOGUE
from herdsync.meetings import Turned
from herdsync.papers.outcomes import ProofChecked
from herdsync.safe_text import safe_text

_MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\S*", re.ASCII)
DAMAGED = 3
DOES_NOT_HOLD = 1


@verb("trail", known=True)
@click.argument("ref")
def trail(asked: Asked, ref: str) -> None:
    """Tell the history of a record; of an animal, of every record naming it."""
    with asked.looking() as farm:
        lines = farm.trail(ref)
        names = {} if asked.as_json else names_in(farm, lines)
    asked.answer(lines, told_trail(lines, names))


@verb("proof")
@click.argument("id", required=False)
@click.option("--out", type=click.Path(path_type=Path), help="The file to write.")
@click.option("--check", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="A proof file, or a paper beside its proof, to check.")  # fmt: skip
def proof(asked: Asked, id: str | None, out: Path | None, check: Path | None) -> None:
    """Write what proves an entry or record ID to anyone who has openssl; or check such a file.

    --check needs no farm: it reads a proof that came with papers, or of an entry. Exit code 1 where
    it does not hold.
    """
    if (check is None) != (id is not None and out is not None):
        raise click.UsageError("Say 'proof ID --out FILE', or 'proof --check FILE'.")
    if check is not None:
        found = check_proof(check.expanduser())
        asked.answer(found, told_checked(found))
        if not found.holds:
            raise click.exceptions.Exit(DOES_NOT_HOLD)
        return
    assert id is not None, "checked above"
    assert out is not None, "checked above"
    with asked.farm() as farm:
        proved = farm.proof(id, out)
    said = f"Wrote {proved.file}; it says itself how to check it with openssl."
    asked.answer(proved, sentence(said))


def told_checked(found: ProofChecked) -> Iterator[str]:
    """Whether a proof holds, paper by paper, and what to ask the one it came from."""
    for paper in found.papers:
        yield from sentence(f"{safe_text(paper.paper)}: {paper.says}.", 0, 2)
    if found.papers and found.signed_by:
        yield from sentence(f"Signed on {found.signed_by}.", 0, 2)
    for entry in () if found.papers else found.entries:
        yield from sentence(f"Entry {entry}: as it was signed.", 0, 2)
    for told in found.says:
        yield from sentence(told, 2, 4)
    for fault in found.faults:
        yield from sentence(f"Fault: {fault}.", 0, 2)
    if found.holds:
        asks = (
            f"Ask them whether the farm's id begins with {found.farm_id[:12]}; a stranger can found"
        )
        yield from sentence(f"It holds. {asks} a farm of the same name.", 0, 2)
    else:
        yield from sentence("It does NOT hold: rely on nothing in it, and ask for it anew.", 0, 2)


@verb("verify")
@click.option("--refold", is_flag=True, help="First fold everything derived from the log anew.")
def verify(asked: Asked, refold: bool) -> None:
    """Check everything stored; exit code 3 where bytes are damaged."""
    with asked.farm() as farm:
        if refold:
            farm.refold()
        verified = farm.verify()
    asked.answer(verified, told_verified(verified))
    if verified.faults:
        raise click.exceptions.Exit(DAMAGED)


@verb("devices", known=True)
@click.option(
    "--refused", is_flag=True, help="Who called over the network and was refused, and why."
)
def devices(asked: Asked, refused: bool) -> None:
    """List the laptops of the farm."""
    with asked.farm() as farm:
        if refused:
            turned = farm.turned_away()
            asked.answer(turned, told_turned(turned))
            return
        lines = farm.devices()
    asked.answer(lines, told_devices(lines))


def told_turned(turned: list[Turned]) -> Iterator[str]:
    """Who was refused over the network, the newest first."""
    if not turned:
        yield "Nobody who called over the network was refused."
    for one in turned:
        yield from sentence(f"{moment(one.at)}  {one.who}: {one.why}", 0, 2)


def names_in(farm: Looking, lines: list[TrailLine]) -> dict[str, str]:
    """What the records that values name are called, by id."""
    names: dict[str, str] = {}
    for line in lines:
        kind = CATALOGUE.get(line.kind)
        if kind is None or line.field not in kind.refs:
            continue
        for value in [*line.before, line.after]:
            if isinstance(value, str) and value not in names:
                names[value] = farm.show(value).title
    return names


def told_trail(lines: list[TrailLine], names: dict[str, str]) -> Iterator[str]:
    """Entry by entry, as the farm orders them: who, where and when, then what changed."""
    if not lines:
        yield "Nothing was written."
    entry = ""
    for line in lines:
        if line.entry != entry:
            entry = line.entry
            yield from sentence(_heading(line), 0, 2)
            if line.because:
                yield from sentence(f"because: {line.because}", 4, 6)
        if line.field:
            before = f" (was {_shown(line.before, names)})" if line.before else ""
            yield from sentence(f"{line.field}: {_shown(line.after, names)}{before}", 4, 6)


def _heading(line: TrailLine) -> str:
    at = f"{line.by} at {line.keeper}'s laptop {line.device}"
    if line.by == line.keeper:
        at = f"{line.by} on {line.device}"
    doubts = [
        word
        for word, doubted in (
            ("signature BAD", line.signature != "good"),
            ("clock doubtful", line.doubtful),
            ("clock set by hand", line.by_hand),
            ("not vouched for", not line.vouched),
        )
        if doubted
    ]
    told = f" [{', '.join(doubts)}]" if doubts else ""
    what = f"{line.verb} {line.title or line.kind}"
    return f"{moment(line.recorded)}  {at}: {what}  {line.entry[:12]}{told}"


def _shown(value: object, names: dict[str, str]) -> str:
    if isinstance(value, list):
        return " | ".join(_shown(one, names) for one in value) or "nothing"
    if isinstance(value, dict):
        return ", ".join(f"{name} {_shown(one, names)}" for name, one in value.items())
    if value is None:
        return "nothing"
    told = str(value)
    return moment(told) if _MOMENT.fullmatch(told) else names.get(told, told)


def told_verified(verified: Verified) -> Iterator[str]:
    """The sums, then every fault and fork."""
    counts = (
        several(verified.entries, "entry", "entries"),
        several(verified.devices, "laptop"),
        several(verified.records, "record"),
    )
    yield f"Checked {', '.join(counts)}."
    if verified.unvouched:
        yield f"Not vouched for: {verified.unvouched}."
    if verified.parked:
        yield f"Waiting for what they build on: {verified.parked}."
    if verified.unreadable:
        yield f"Kept and passed on, but not understood here: {verified.unreadable}."
        for unread in verified.unread:
            yield from sentence(f"{unread.what}: {unread.why}.", 2, 4)
    for word, told in (("Fault", verified.faults), ("Fork", verified.forks)):
        for one in told:
            yield from sentence(f"{word}: {one}", 0, 2)
    if not verified.faults:
        yield "Every byte, link and signature holds."


def told_devices(lines: list[DeviceLine]) -> Iterator[str]:
    """One line a laptop."""
    rows = [
        (
            line.device + (" (this one)" if line.this else ""),
            line.keeper,
            line.role + (", steward" if line.steward else ""),
            line.entries,
            moment(line.last_recorded),
            moment(line.known_here),
        )
        for line in lines
    ]
    yield from table(("laptop", "keeper", "role", "entries", "wrote last", "heard"), rows)
    if len(lines) > 1:
        yield from told_witness(lines)
    from herdsync.exchange.apart import ANOTHER_SIDE, APART, why_apart
    from herdsync.exchange.witness import why_copies

    for line in lines:
        if line.branches > 1 and line.role != "removed":
            yield from sentence(f"Laptop {line.device}: {why_copies(line.branches)}")
    unheard_of = sum(line.role == APART for line in lines)
    if unheard_of:
        yield from sentence(f"There is {ANOTHER_SIDE}. {why_apart(unheard_of)}")


def told_witness(lines: list[DeviceLine]) -> Iterator[str]:
    """Whether this laptop may be lost, who lacks what, where others answer."""
    for line in lines:
        if line.this and line.only_here:
            left = f"; {line.left} of them lie sealed on a carrier" if line.left else ""
            entries = several(line.only_here, "entry is", "entries are")
            yield from sentence(f"{entries} only on this laptop, as far as known{left}.")
        elif line.this:
            yield from sentence("Everything here is on another laptop too: this one may be lost.")
        if line.lacks:
            missing = several(line.lacks, "entry", "entries")
            yield from sentence(f"{line.device} is not known to have {missing} of what is here.")
        if line.address:
            yield f"{line.device} last answered at {line.address}."
