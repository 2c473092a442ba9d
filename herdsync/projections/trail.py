"""The trail: what every entry changed, field by field, before and after, by whom, and why.

Nothing is left out of it, ended and unvouched claims least of all.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from msgspec import structs

from herdsync.answers import TrailLine
from herdsync.kinds.ids import text_id
from herdsync.merge.payloads import DIFFERENT, RECORD, SAME, STANDS, VERDICT
from herdsync.merge.records import Claim, Record, Register
from herdsync.projections import moments
from herdsync.projections.goat import Goat
from herdsync.projections.look import Look
from herdsync.projections.voices import Voices, answered


def trail(records: Iterable[Record], look: Look, voices: Voices) -> list[TrailLine]:
    """Every change of some records, in the order in which entries are shown."""
    lines: list[TrailLine] = []
    for claim, record in _changes(records):
        lines += _lines(claim, record, look, voices)
    return lines


def newest_lines(
    records: Iterable[Record], look: Look, voices: Voices, most: int
) -> list[TrailLine]:
    """The newest changes of some records, newest first; no more are told than asked for."""
    lines: list[TrailLine] = []
    for claim, record in reversed(_changes(records)):
        if len(lines) >= most:
            break
        lines += reversed(list(_lines(claim, record, look, voices)))
    return lines[:most]


def _changes(records: Iterable[Record]) -> list[tuple[Claim, Record]]:
    """Every claim on some records, in the order in which entries are shown."""
    changes = [
        (claim, record)
        for record in records
        for register in record.registers.values()
        for claim in register.every()
    ]
    return sorted(changes, key=lambda one: (one[0].order, one[0].register))


def tie_lines(
    verdict: Register, a: Record, b: Record, look: Look, voices: Voices
) -> list[TrailLine]:
    """Every word on whether two records are one: `same` or `different`, with what it ended."""
    lines = []
    for claim in verdict.every():
        cited = [one for one in verdict.every() if one.entry in set(claim.cites)]
        before = sorted({_verdict(one) for one in cited})
        line = _line(claim, a, "verdict", before, _verdict(claim), look, voices)
        title = f"{look.names.of(a)} and {look.names.of(b)}"
        lines.append(structs.replace(line, title=title))
    return lines


def _verdict(claim: Claim) -> str:
    return SAME if claim.values[VERDICT] else DIFFERENT


def about(goat: Goat) -> list[Record]:
    """An animal's sheet and every record that names it: what was taken back was written too."""
    naming = goat.look.records.ever_naming(goat.id)
    return list(({goat.id: goat.record} | {record.id: record for record in naming}).values())


def _lines(claim: Claim, record: Record, look: Look, voices: Voices) -> Iterator[TrailLine]:
    if claim.register == STANDS:
        if claim.verb != RECORD:
            before = [one.values[STANDS] for one in _cited(claim, record)]
            yield _line(claim, record, "", before, claim.values[STANDS], look, voices)
        return
    cited = _cited(claim, record)
    for field, value in sorted(claim.values.items()):
        after = answered(record.kind, field, value)
        before = _before(cited, record, field)
        if before != [after]:
            yield _line(claim, record, field, before, after, look, voices)
    for field in sorted({name for one in cited for name in one.values} - set(claim.values)):
        yield _line(claim, record, field, _before(cited, record, field), None, look, voices)


def _cited(claim: Claim, record: Record) -> list[Claim]:
    cites = set(claim.cites)
    register = record.registers[claim.register]
    return [one for one in register.every() if one.entry in cites]


def _before(cited: Iterable[Claim], record: Record, field: str) -> list[Any]:
    """The distinct values of the claims an entry ended, in the order shown."""
    found: list[Any] = []
    for claim in cited:
        if field in claim.values:
            value = answered(record.kind, field, claim.values[field])
            if value not in found:
                found.append(value)
    return found


def _line(
    claim: Claim,
    record: Record,
    field: str,
    before: list[Any],
    after: Any,
    look: Look,
    voices: Voices,
) -> TrailLine:
    author = claim.author
    return TrailLine(
        entry=text_id(claim.entry),
        verb=claim.verb,
        kind=record.kind,
        keeper=author.keeper,
        by=author.by,
        device=voices.device_name(author.device),
        recorded=moments.clock_text(author.clock, look.zone),
        height=author.height,
        field=field,
        before=before,
        after=after,
        because=claim.because,
        signature=voices.signature(claim.entry),
        record=text_id(record.id),
        title=look.names.of(record),
        doubtful=voices.doubtful(claim.entry),
        by_hand=author.by_hand,
        vouched=claim.vouched,
    )
