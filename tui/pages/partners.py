"""Partners: whether this laptop could be lost, the laptops of the farm and what each has, the carrier."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from herdsync.answers import DeviceLine
from herdsync.faults import Refused
from herdsync.meetings import Turned
from tui import words
from tui.pages.page import Cell, Column, Fact, Page, Row, heading

if TYPE_CHECKING:
    from herdsync.farm import Farm

COLUMNS = (
    Column("Keeper", 12, grow=1),
    Column("Laptop", 13, grow=1),
    Column("Role", 15, grow=1),
    Column("Wrote", 6, room=66, right=True),
    Column("Has of ours", 12),
    Column("Last heard", 13, grow=1, room=68),
)
ALONE = (
    "A partner's laptop joins so: there, open herdsync in an empty folder and choose 'join', with "
    "the folder or stick you share. It shows a code. Here press j and type the code in."
)
WAITING = (
    "A laptop wrote after it was put out, or beyond its role. It counts for safety alone until a keeper "
    "adopts it or sets it aside."
)
NO_CARRIER_SAID = (
    "b names the folder or stick. While it is there and this is open, the exchange goes by itself."
)
NOT_LISTENING = (
    "t answers partners' laptops on this network while the dashboard is open. Each proves its own key; "
    "nobody else is answered."
)
HOW_TO_CALL = (
    "On the other laptop press b and give this laptop's address on the network with this port, such as "
    "192.168.1.20:{port}. t stops it."
)
SAFE = (
    "Whatever is on this laptop is also on another of the farm's. Losing it would lose no record."
)
NOT_SAFE = (
    "No other laptop is known to have these. b exchanges: then a partner's exchange brings them over. "
    "k writes a backup meanwhile."
)
SEALED = "{left} of them lie sealed on a folder or stick: they are safe once a partner's laptop took them in."
APART = (
    "It seals to a laptop never heard of here, and not to this one: the recovery words were used twice "
    "apart, or this one was put out. Nothing is lost. b tells the way out when it meets that side again."
)
READS_ONLY = (
    "c begins again with the recovery words and makes this laptop one of its own. Or join afresh into "
    "another folder: 'herdsync join'."
)


@dataclass(frozen=True)
class Partners:
    """What Partners needs of the farm. ``fault``: why its laptops cannot be told, on a copied farm."""

    devices: list[DeviceLine]
    waiting: int = 0
    fault: str = ""
    read_only: str = ""
    turned: Sequence[Turned] = ()


@dataclass(frozen=True)
class Carrier:
    """The folder, stick or address last used, whether it is exchanged through unasked, the last word;
    and the port this laptop answers on, 0 for none, with what the last visit came to.
    """

    told: str = ""
    by_itself: bool = True
    said: str = ""
    port: int = 0
    visited: str = ""


def read(farm: Farm) -> Partners:
    """The laptops, and how many entries wait for a keeper's word."""
    try:
        devices, fault = farm.devices(), ""
    except Refused as refused:
        devices, fault = [], str(refused)
    waiting = len({line.entry for line in farm.unvouched()})
    return Partners(devices, waiting, fault, farm.read_only, farm.turned_away())


def page(told: Partners, now: datetime, carrier: Carrier | None = None) -> Page:
    """Whether this laptop could be lost; a line a laptop; what waits; the carriers."""
    rows: list[Row] = []
    facts: dict[str, list[Fact]] = {}
    if told.fault or told.read_only:
        rows.append(
            Row("reads", (Cell("▲ Reads only", "late"), Cell("this laptop may not write", "late")))
        )
        facts["reads"] = [
            Fact("", told.fault or told.read_only, "late"),
            Fact("Way on", READS_ONLY),
        ]
    alone = len(told.devices) == 1
    for line in told.devices:
        if line.this:
            rows.append(_safety(line, alone=alone))
            facts["safe"] = _safety_facts(line)
    if rows and told.devices:
        rows.insert(len(rows) - 1, heading("this", "This laptop"))
    rows += [heading("laptops", "Laptops", str(len(told.devices)))] if told.devices else []
    for line in told.devices:
        rows.append(_row(line, now))
        facts[rows[-1].key] = _facts(line, now)
        if alone:
            facts[rows[-1].key].insert(0, Fact("No partner yet", ALONE, "closing"))
    if told.waiting:
        count = words.count(told.waiting, "entry", "entries")
        cells = (Cell("! Unvouched", "late"), Cell(count, "late"), Cell("waiting: n", "late"))
        rows.append(Row("waiting", cells))
        facts["waiting"] = [Fact("! Not vouched for", WAITING, "late")]
    if carrier is not None and rows:
        lines, said = _carriers(carrier)
        rows += lines
        facts |= said
    if told.turned:
        rows.append(heading("turned", "Refused over the network", str(len(told.turned))))
    for number, one in enumerate(told.turned):
        cells = (Cell(words.stamp(one.at, now), "dim"), Cell(one.who), Cell(one.why, "dim"))
        rows.append(Row(f"turned {number}", cells))
        facts[f"turned {number}"] = [Fact(f"{words.day_word(one.at, now)}, {one.who}", one.why)]
    return Page(COLUMNS, rows, "No laptop is known.", facts)


def _safety(line: DeviceLine, *, alone: bool) -> Row:
    """What would be gone with this laptop."""
    if not line.only_here and not alone:
        return Row(
            "safe", (Cell("If it's lost", "dim"), Cell("✓ nothing", "good"), Cell("would be gone"))
        )
    count = words.count(line.only_here, "entry", "entries")
    sealed = f"{line.left} sealed" if line.left else ""
    cells = (
        Cell("If it's lost", "dim"), Cell(f"▲ {count}", "late"), Cell("would be gone", "late"), Cell(""),
        Cell(sealed, "dim"),
    )  # fmt: skip
    return Row("safe", cells)


def _safety_facts(line: DeviceLine) -> list[Fact]:
    if not line.only_here:
        return [Fact("Safe to lose this laptop", SAFE, "good")]
    count = words.count(line.only_here, "entry is", "entries are")
    found = [Fact("", f"{count} only on this laptop: do not lose it. {NOT_SAFE}", "late")]
    return found + ([Fact("Sealed", SEALED.format(left=line.left))] if line.left else [])


def _row(line: DeviceLine, now: datetime) -> Row:
    role = f"{line.role}, steward" if line.steward else line.role
    forked = " FORKED" if line.branches > 1 else ""
    heard = words.stamp(line.heard or line.last_recorded, now) or "never"
    has = Cell("all", "good") if not line.lacks else Cell(f"lacks {line.lacks}", "closing")
    gone, apart = line.role == "removed", line.role == "apart"
    cells = (
        Cell("▲ apart" if apart else line.keeper, "late" if apart else "dim" if gone else "strong"),
        Cell(("▸" if line.this else "") + line.device, "dim" if gone else "plain"),
        Cell(role + forked, "late" if forked else "dim" if gone else "plain"),
        Cell(str(line.entries)),
        Cell("this one", "dim") if line.this else Cell("put out", "dim") if gone else has,
        Cell("" if line.this else heard, "dim"),
    )
    return Row(f"device {line.key}", cells, record="", name=line.device)


def _facts(line: DeviceLine, now: datetime) -> list[Fact]:
    found = []
    if line.role == "apart":
        return [Fact("! Another side of this farm", APART, "late")]
    if line.branches > 1:
        found.append(
            Fact(
                "! Two laptops write with one key",
                "A copied or restored farm: nothing is lost, both are kept. Remove the key and "
                "join afresh.",
                "late",
            )
        )
    if not line.this:
        heard = words.day_word(line.heard, now) or "never"
        whole = "all it had then is here" if line.known_here else "not all it had then is here yet"
        found.append(Fact("Last heard", f"{heard}; {whole}" if line.heard else heard))
        has = (
            f"not known to have {line.lacks} of the entries here"
            if line.lacks
            else "has all that is here"
        )
        found.append(Fact("Has of ours", has, "closing" if line.lacks else "good"))
    found.append(Fact("Last wrote", words.day_word(line.last_recorded, now) or "never"))
    if line.address:
        found.append(Fact("Answered last at", line.address))
    return [*found, Fact("Key", line.key, "dim")]


def _carriers(carrier: Carrier) -> tuple[list[Row], dict[str, list[Fact]]]:
    how = "by itself" if carrier.by_itself and carrier.told else "when asked"
    through = (
        Cell("Through", "dim"),
        Cell(carrier.told or "nothing yet"),
        Cell(how),
        Cell(""),
        Cell("b", "dim"),
    )
    listens = f"port {carrier.port}" if carrier.port else "not listening"
    network = (
        Cell("Network", "dim"), Cell(listens, "good" if carrier.port else "plain"),
        Cell("answers now" if carrier.port else "t begins"), Cell(""), Cell("t", "dim"),
    )  # fmt: skip
    called = HOW_TO_CALL.format(port=carrier.port) if carrier.port else NOT_LISTENING
    facts = {
        "carrier": [Fact("", carrier.said or NO_CARRIER_SAID)],
        "network": [
            Fact("", called),
            *([Fact("Last", carrier.visited)] if carrier.visited else []),
        ],
    }
    rows = [heading("exchange", "Exchange"), Row("carrier", through), Row("network", network)]
    return rows, facts
