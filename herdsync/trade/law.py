"""What the law of some countries says about disbudding and castration, each with its source.

Shown, never silent, and never a reason not to record what was done. Laws change and this is no
legal advice: where a country is missing, the keeper's own rows (a setting) stand in its place.
"""

from __future__ import annotations

from datetime import date
from typing import Literal, NamedTuple

from herdsync.trade.dates import add_days, add_months, age_days

Method = Literal["ring", "clamp", "surgical"]
Standing = Literal["allowed", "veterinarian only", "forbidden", "unknown"]


class LegalNote(NamedTuple):
    """What the law says about one act: how it stands, the words of it and where they come from."""

    standing: Standing
    text: str
    source: str


class CastrationLaw(NamedTuple):
    """A country's limits for castration by the keeper.

    A ring without anaesthetic is allowed to ``ring_last_day`` of age (day 0 is birth), any other
    method under ``lay_under_months``; from then on only a veterinarian with anaesthetic.
    """

    ring_last_day: int
    lay_under_months: int
    source: str


# Great Britain prints "the first week" in lamb guidance and "first weeks" in the goat code; the
# seven days of Northern Ireland's rule are taken for both.
CASTRATION_LAW: dict[str, CastrationLaw] = {
    "GB": CastrationLaw(7, 2, "Defra, Goats: Code of Recommendations (PB0081), note 4"),
    "GB-NIR": CastrationLaw(7, 2, "Northern Ireland Statutory Rules 2012/153, Schedule 4"),
}

_SWISS_STUDY = "BMC Veterinary Research 2018, s12917-018-1544-7"
_ROUTINE = "disbudding is routine; no national rule of age is known here (from memory)"
DISBUDDING_LAW: dict[str, LegalNote] = {
    "GB": LegalNote(
        "veterinarian only",
        "disbudding a goat is veterinary surgery",
        "Defra, Goats: Code of Recommendations (PB0081), note 4; RCVS statement",
    ),
    "GB-NIR": LegalNote(
        "veterinarian only",
        "the lay list names it, yet the 1966 Act still restricts it according to the RCVS",
        "Northern Ireland Statutory Rules 2012/153, Schedule 4; RCVS statement",
    ),
    "DE": LegalNote("veterinarian only", "disbudding is for a veterinarian", _SWISS_STUDY),
    "AT": LegalNote("forbidden", "disbudding goats is forbidden since 2005", _SWISS_STUDY),
    "CH": LegalNote(
        "allowed",
        "certified farmers only, under general anaesthesia, up to 3 weeks of age",
        _SWISS_STUDY,
    ),
    "US": LegalNote("allowed", _ROUTINE, _SWISS_STUDY),
    "AU": LegalNote("allowed", _ROUTINE, _SWISS_STUDY),
    "NZ": LegalNote("allowed", _ROUTINE, _SWISS_STUDY),
}


def disbudding_law(country: str) -> LegalNote:
    """What is known of a country's law (ISO 3166 code) on disbudding a goat kid."""
    known = DISBUDDING_LAW.get(country.upper())
    return known if known is not None else _unknown(country, "disbudding")


def castration_law(
    country: str, method: Method, born: date, on: date, own: CastrationLaw | None = None
) -> LegalNote:
    """What the law says of one method at one age; ``own`` is the farm's own row, which counts.

    Raises ValueError where the day lies before the birth.
    """
    age = age_days(born, on)
    rule = own if own is not None else CASTRATION_LAW.get(country.upper())
    if rule is None:
        return _unknown(country, "castration")
    vet_from = add_months(born, rule.lay_under_months)
    if on >= vet_from:
        return LegalNote(
            "veterinarian only",
            f"from {rule.lay_under_months} months ({vet_from}) a veterinarian with anaesthetic",
            rule.source,
        )
    if method == "surgical":
        return LegalNote(
            "veterinarian only",
            "cutting is the veterinarian's work at any age",
            "common practice, no published source",
        )
    if method == "ring" and age > rule.ring_last_day:
        return LegalNote(
            "veterinarian only",
            f"a ring without anaesthetic only to day {rule.ring_last_day} "
            f"({ring_last_day(born, rule)}); past that it is a veterinarian's with anaesthetic",
            rule.source,
        )
    last = ring_last_day(born, rule) if method == "ring" else add_days(vet_from, -1)
    return LegalNote("allowed", f"by {method} up to and including {last}", rule.source)


def ring_last_day(born: date, rule: CastrationLaw) -> date:
    """The last day on which a kid may be ringed without anaesthetic under a country's rule."""
    return add_days(born, rule.ring_last_day)


def _unknown(country: str, act: str) -> LegalNote:
    if not country:
        words = f"no country is set, so nothing is known here of its law on {act}"
        return LegalNote("unknown", f"{words}: ask before the day", "")
    words = f"the law of {country.upper()[:6]} on {act} is not known here"
    return LegalNote("unknown", f"{words}: ask before the day", "")
