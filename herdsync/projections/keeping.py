"""Until when papers must be kept, by the sorts of papers that are known. Nothing is ever deleted.

Must not know any law beyond the periods the trade lists.
"""

from __future__ import annotations

from collections.abc import Iterator

from herdsync.kinds.medicine import MEDICINES
from herdsync.merge.records import Record
from herdsync.projections import acts
from herdsync.projections.herd import Herd
from herdsync.reports import KeepingLine
from herdsync.trade.screening import KEEPING_PERIODS, KeepingPeriod, keep_until

# Member states whose medicine records follow the Union's rule, by code (ISO 3166-1).
# fmt: off
_UNION = frozenset({
    "AT", "BE", "BG", "CY", "CZ", "DE", "DK", "EE", "ES", "FI", "FR", "GR", "HR", "HU", "IE", "IT",
    "LT", "LU", "LV", "MT", "NL", "PL", "PT", "RO", "SE", "SI", "SK",
})
# fmt: on


def keeping_lines(herd: Herd) -> list[KeepingLine]:
    """Each keeping period that counts here, with the papers that still fall under it.

    Without a country set, every period is shown.
    """
    lines = []
    for period in KEEPING_PERIODS:
        if counts_here(period, herd.look.settings.country):
            lines.append(_line(herd, period))
    return lines


def counts_here(period: KeepingPeriod, country: str) -> bool:
    """Whether a keeping period is one of a country's; without a country every one is."""
    if not country or period.key == "identity-sales":
        return True
    wanted = {
        "us-extralabel": country.startswith("US"),
        "england-medicine": country.startswith("GB"),
        "eu-medicine": country[:2] in _UNION,
    }
    return wanted.get(period.key, True)


def _line(herd: Herd, period: KeepingPeriod) -> KeepingLine:
    today = herd.look.today
    running = sorted(
        until
        for record in _papers(herd, period.key)
        if (day := acts.first_day(record, herd.look.zone)) is not None
        if (until := keep_until(day, period.years).on) >= today
    )
    newest = running[-1].isoformat() if running else ""
    says = (
        f"{period.what}: {len(running)} must be kept, the newest until {newest}"
        if running
        else f"{period.what}: none on record must be kept at present"
    )
    return KeepingLine(
        period.key, period.what, period.years, period.source, len(running), newest,
        f"{says}; nothing is deleted then",
    )  # fmt: skip


def _papers(herd: Herd, key: str) -> Iterator[Record]:
    kinds = (*MEDICINES, "purchase", "disposal")
    if key == "us-extralabel":
        yield from (one for one in herd.records.of_kind("dose") if one.value("extra_label"))
        return
    if key == "identity-sales":
        kinds = ("leaving", "arrival", "tattoo", "death")
    for kind in kinds:
        yield from herd.records.of_kind(kind)
