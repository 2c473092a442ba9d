"""Calcium and phosphorus of common feeds, each row with the source of its figures.

Data only. Mineral contents may vary 30 % from any table (Colorado State fact sheet 1.615), so the
farm's own analyses are taken first. Must not know rations or animals.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import NamedTuple

from herdsync.trade.feed import AS_FED, DRY

_ENSMINGER = "after Ensminger, Oldfield and Heinemann, Feeds and Nutrition, 2nd ed. 1990"
_VIRGINIA = "Virginia Tech note on phosphorus in feeds (NRC 2001 and a laboratory's 2005 means)"
_MEMORY = "from memory"
_MIXED = f"phosphorus: {_VIRGINIA}; calcium: {_MEMORY}"


class FeedRow(NamedTuple):
    """One feed: per cents on its basis (None where no figure is known) and where they come from.

    ``own`` marks the farm's own analysis.
    """

    name: str
    calcium_percent: Decimal | None
    phosphorus_percent: Decimal | None
    basis: str
    dry_matter_percent: Decimal | None
    source: str
    own: bool = False


def _row(
    name: str,
    calcium: str | None,
    phosphorus: str,
    basis: str,
    source: str,
    dry_matter: str | None = None,
) -> FeedRow:
    return FeedRow(
        name,
        None if calcium is None else Decimal(calcium),
        Decimal(phosphorus),
        basis,
        None if dry_matter is None else Decimal(dry_matter),
        source,
    )


# The source prints a dry matter of 90 to 91 % for its lucerne hays; the lower one is kept.
FEED_TABLE = (
    _row("alfalfa hay", "1.28", "0.24", AS_FED, _ENSMINGER, "90"),
    _row("alfalfa hay, prebloom", "1.34", "0.30", AS_FED, _ENSMINGER, "90"),
    _row("alfalfa hay, midbloom", "1.27", "0.22", AS_FED, _ENSMINGER, "90"),
    _row("alfalfa hay, mature", "1.07", "0.19", AS_FED, _ENSMINGER, "90"),
    _row("Bermuda-grass hay", "0.43", "0.16", AS_FED, _ENSMINGER, "91"),
    _row("timothy hay", "0.45", "0.25", DRY, _MEMORY),
    _row("orchard-grass hay", "0.30", "0.30", DRY, _MEMORY),
    _row("grass hay, immature", None, "0.34", DRY, _VIRGINIA),
    _row("grass hay, mature", None, "0.26", DRY, _VIRGINIA),
    _row("maize grain", "0.03", "0.27", AS_FED, _MEMORY),
    _row("oats", "0.07", "0.33", AS_FED, _MEMORY),
    _row("barley", "0.06", "0.39", DRY, _MIXED),
    _row("soybean meal", "0.30", "0.65", AS_FED, _MEMORY),
    _row("wheat bran", "0.13", "1.18", DRY, _MIXED),
    _row("beet pulp", "0.9", "0.09", DRY, _MIXED),
    _row("soybean hulls", "0.6", "0.17", DRY, _MIXED),
    _row("citrus pulp", "1.9", "0.12", DRY, _MIXED),
    _row("limestone", "38", "0.02", AS_FED, _MEMORY),
    _row("dicalcium phosphate", "22", "19.3", AS_FED, _MEMORY),
)


def feed_row(name: str, own_analyses: Iterable[FeedRow] = ()) -> FeedRow:
    """The figures of a feed, the farm's own analysis before the table; the last own one counts.

    Raises ValueError where neither knows the name.
    """
    wanted = name.strip().casefold()
    own = [row for row in own_analyses if row.name.strip().casefold() == wanted]
    found = own or [row for row in FEED_TABLE if row.name.casefold() == wanted]
    if not found:
        raise ValueError(f"no figures are known for {name}; type those of its label or analysis")
    return found[-1]
