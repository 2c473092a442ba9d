"""The record of a use outside the label: what United States rules ask for, and what is missing.

21 CFR 530 (US): only on the lawful order of a licensed veterinarian, who sets the withdrawal. The
module names gaps; it never fills one, and it holds no list of drugs.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from herdsync.trade.advice import Advice, Finding

# 21 CFR 530.5, as printed in Ohio State University Veterinary Medicine, antimicrobial-use book,
# "ELDU requirements, food animal". Field -> what the keeper calls it.
RECORD_FIELDS: dict[str, str] = {
    "animals": "which animals, singly or as a group",
    "species": "the species",
    "number_treated": "how many were treated",
    "condition": "the condition treated",
    "drug": "the established name of the drug",
    "active_ingredient": "the active ingredient",
    "dosage": "the dosage",
    "duration": "how long it was given",
    "withdrawal": "the withdrawal the veterinarian set",
}
# 21 CFR 530.12, same print.
LABEL_FIELDS: dict[str, str] = {
    "veterinarian": "the veterinarian's name",
    "veterinarian_address": "the veterinarian's address",
    "drug": "the established name of the drug",
    "for_whom": "the class, species or identity of the animals",
    "frequency": "the frequency of dosing",
    "route": "the route",
    "duration": "how long it is given",
    "cautions": "the cautions",
    "withdrawal": "the withdrawal the veterinarian set",
}


class Gaps(NamedTuple):
    """What a record still lacks, in the keeper's words; empty where it is complete."""

    missing: tuple[str, ...]
    finding: Finding


def record_gaps(fields: Mapping[str, str]) -> Gaps:
    """What the treatment record of an extra-label use lacks."""
    return _gaps("record", RECORD_FIELDS, fields)


def label_gaps(fields: Mapping[str, str]) -> Gaps:
    """What the label the veterinarian put on the container lacks."""
    return _gaps("label", LABEL_FIELDS, fields)


def _gaps(paper: str, wanted: Mapping[str, str], fields: Mapping[str, str]) -> Gaps:
    missing = tuple(words for name, words in wanted.items() if not fields.get(name, "").strip())
    if missing:
        return Gaps(
            missing,
            Finding(
                Advice.STOP,
                f"the {paper} of this use outside the label lacks {'; '.join(missing)}: ask the "
                "veterinarian, and hold milk and meat until it is written",
            ),
        )
    return Gaps((), Finding(Advice.OK, f"the {paper} of this use outside the label is complete"))
