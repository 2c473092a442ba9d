"""Rations: sums of what feeds hold, the farm's own analyses first, from records or typed figures.

Must not know files, and prescribes nothing: feed is changed over days, on advice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction

from msgspec import Struct

from herdsync.answers import RationSum
from herdsync.faults import Refused
from herdsync.kinds.cautions import RATION
from herdsync.merge.records import Record, Records
from herdsync.projections.amounts import told
from herdsync.trade.bounds import percent, within
from herdsync.trade.feed import (
    AS_FED,
    DRY,
    Portion,
    RationAnswer,
    judge_ratio,
    limestone,
    mixed_mg_per_kg,
    ration,
)
from herdsync.trade.feed_table import FeedRow, feed_row
from herdsync.trade.trace_minerals import (
    ammonium_chloride_ceiling,
    judge_copper,
    selenium_ceiling,
)
from herdsync.trade.units import Amount, plain

_BASIS = {"dry": DRY, "as-fed": AS_FED}


class Fed(Struct, frozen=True):
    """One feed of a ration with what is known of its trace minerals, all on the portion's basis.

    ``selenium_ppm`` is selenium added. None where nobody told.
    """

    portion: Portion
    copper_ppm: Amount | None = None
    molybdenum_ppm: Amount | None = None
    selenium_ppm: Amount | None = None
    ammonium_chloride_percent: Amount | None = None
    source: str = ""


def known_portion(records: Records, name: str, amount_g: Amount) -> Fed:
    """A feed by its name: the farm's own analysis first, then the table of common feeds.

    Raises ValueError where neither knows it.
    """
    own = [one for one in records.of_kind("feed") if _called(one) == name.strip().casefold()]
    if own:
        return fed_of(max(own, key=lambda one: str(one.value("analysed", ""))), amount_g)
    row = feed_row(name)
    portion = Portion(
        row.name,
        amount_g,
        row.calcium_percent,
        row.phosphorus_percent,
        row.basis,
        AS_FED if row.dry_matter_percent is not None else None,
        row.dry_matter_percent,
    )
    return Fed(portion, source=f"{row.name}: from a table ({row.source}), not the farm's own")


def recorded_ration(records: Records, record: Record) -> list[Fed]:
    """The parts of a ration on record. Raises Refused where it has none."""
    parts = [one for one in records.naming(record.id, "ration-part") if one.kind == "ration-part"]
    found = []
    for part in parts:
        feed_id, grams = part.value("feed"), told(part, "amount_g", "g")
        feed = records.get(feed_id) if isinstance(feed_id, bytes) else None
        if feed is not None and grams is not None:
            found.append(fed_of(feed, grams))
    if not found:
        raise Refused(
            "That ration has no parts on record.",
            "Record each: herdsync record ration-part ration=... feed=... amount_g=...",
        )
    return found


def fed_of(feed: Record, amount_g: Amount) -> Fed:
    """A feed on record as a portion; its amount is as fed where its dry matter is told."""
    row = _row(feed)
    dry_matter = row.dry_matter_percent
    portion = Portion(
        row.name,
        amount_g,
        row.calcium_percent,
        row.phosphorus_percent,
        row.basis,
        AS_FED if dry_matter is not None else None,
        dry_matter,
    )
    return Fed(
        portion,
        told(feed, "copper_ppm", "ppm"),
        told(feed, "molybdenum_ppm", "ppm"),
        told(feed, "selenium_ppm", "ppm"),
        told(feed, "ammonium_chloride_percent", "%"),
        "" if feed.value("analysed") else f"{row.name}: {row.source}",
    )


def ration_sum(
    feeds: Sequence[Fed], sex: str, *, target: Amount | None = None, sheep: bool = False
) -> RationSum:
    """Sums, ratio, limestone and ceilings of one day's ration.

    ``sex``: doe, buck, wether; "" for any, which answers for does and says what males would need.
    Raises ValueError where the figures allow no sum.
    """
    found = ration([one.portion for one in feeds], sex or "doe")
    reason = _sentence(found.reason)
    if not sex:
        as_male = judge_ratio(found.ratio, "buck")
        if as_male.advice is not found.advice:
            reason += f" For bucks and wethers: {as_male.advice}, {as_male.reason}."
    mend = limestone(found.calcium_g, found.phosphorus_g, target if target is not None else 2)
    further = [*_limestone_words(mend.limestone_g, mend.reason), *_ceilings(feeds, found, sheep)]
    further += [_sentence(one.source) for one in feeds if one.source]
    return RationSum(
        calcium_g=_float(found.calcium_g),
        phosphorus_g=_float(found.phosphorus_g),
        ratio=_float(found.ratio),
        advice=str(found.advice),
        reason=f"{reason} {_sentence(found.caution)}",
        limestone_g=_float(mend.limestone_g),
        further=further,
        caution=RATION,
    )


def _limestone_words(grams: Fraction, reason: str) -> Iterator[str]:
    if grams:
        yield f"Limestone: {reason} (38 % calcium). Change feed over days."


def _ceilings(feeds: Sequence[Fed], found: RationAnswer, sheep: bool) -> Iterator[str]:
    """What copper, selenium and ammonium chloride of a ration mean, where any feed tells them."""
    copper = _mixed(feeds, [one.copper_ppm for one in feeds])
    if copper is not None:
        molybdenum = _mixed(feeds, [one.molybdenum_ppm for one in feeds])
        lacking = [one.portion.name for one in feeds if one.copper_ppm is None]
        judged = judge_copper(copper, molybdenum, sheep_eat_it=sheep, at_least=bool(lacking))
        yield _sentence(f"{judged.advice}: {judged.reason}")
        if lacking:
            yield f"Copper of {', '.join(lacking)} is not known and counts as none."
    selenium = _mixed(feeds, [one.selenium_ppm for one in feeds])
    if selenium is not None:
        kilos = _dry_kilos(feeds)
        if kilos is None:
            yield "Selenium: give the dry matter of every feed, for its ceiling is of dry feed."
        else:
            added = selenium * found.amount_g / 1000
            ceiling = selenium_ceiling(kilos, added)
            yield _sentence(f"{ceiling.advice}: {ceiling.reason}; {ceiling.caution}")
    if any(one.ammonium_chloride_percent is not None for one in feeds):
        grams = sum(
            (
                within(one.portion.amount_g, f"the grams of {one.portion.name}", 0)
                * percent(one.ammonium_chloride_percent or 0, "the ammonium chloride in %")
                / 100
                for one in feeds
            ),
            Fraction(0),
        )
        ceiling = ammonium_chloride_ceiling(found.amount_g / 1000, grams)
        yield _sentence(f"{ceiling.advice}: {ceiling.reason}; {ceiling.caution}")


def _mixed(feeds: Sequence[Fed], contents: Sequence[Amount | None]) -> Fraction | None:
    """The content of the whole ration; None where no feed tells any."""
    if all(content is None for content in contents):
        return None
    return mixed_mg_per_kg(
        [(one.portion.amount_g, content or 0) for one, content in zip(feeds, contents, strict=True)]
    )


def _dry_kilos(feeds: Sequence[Fed]) -> Fraction | None:
    total = Fraction(0)
    for one in feeds:
        grams = within(one.portion.amount_g, f"the grams of {one.portion.name}", 0)
        if (one.portion.amount_basis or one.portion.basis) == DRY:
            total += grams
        elif one.portion.dry_matter_percent is None:
            return None
        else:
            total += grams * percent(one.portion.dry_matter_percent, "the dry matter in %") / 100
    return total / 1000


def _row(feed: Record) -> FeedRow:
    return FeedRow(
        str(feed.value("name")),
        _decimal(feed, "calcium_percent"),
        _decimal(feed, "phosphorus_percent"),
        _BASIS.get(str(feed.value("basis", "as-fed")), AS_FED),
        _decimal(feed, "dry_matter_percent"),
        str(feed.value("source") or "whose figures they are is not told"),
        own=True,
    )


def _decimal(feed: Record, field: str) -> Decimal | None:
    number = told(feed, field, "%")
    return None if number is None else Decimal(plain(number, 9))


def _called(feed: Record) -> str:
    return str(feed.value("name")).strip().casefold()


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}" + ("" if text.endswith(".") else ".")


def _float(value: Fraction) -> float:
    return float(round(value, 4))
