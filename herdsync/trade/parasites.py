"""The eyelid anaemia score (1-5): its packed cell volume classes and support for the decision.

The score sees anaemia only, which blood-sucking worms cause among other things; it sees no other
worm. This module must not know any product, rate or card of colours, and it prescribes nothing.
"""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from herdsync.trade.bounds import share, within
from herdsync.trade.condition import THIN_AT_MOST, condition_score
from herdsync.trade.units import Amount, plain, whole

# Lowest packed cell volume (per cent) of scores 1 to 4; below the last it is 5. Source: a
# Brazilian dairy-goat field study of 2009-10 giving the classes per eyelid score (abstract).
PCV_LOWEST_PERCENT = {1: 28, 2: 23, 3: 18, 4: 13}
# Outside these a packed cell volume is a slip of the keys, not a live goat: from memory.
PCV_LEAST_PERCENT = 1
PCV_MOST_PERCENT = 70

# Field programmes look every two weeks while worms are about; the longer interval is
# common practice, no published source.
WORM_SEASON_INTERVAL_DAYS = 14
OTHER_SEASON_INTERVAL_DAYS = 28
# Common practice, no published source: a pale eyelid is looked at again after a week.
PALE_FROM = 3
PALE_AGAIN_DAYS = 7
# Above this share of the herd at 4 or 5, score 3 is treated as well: from memory.
HERD_SHARE_ALERT = Fraction(1, 10)
# Rovai, Gipson and Dawson 2007, J. Anim. Sci. 85 Suppl. 1:43 (24 lactating does).
FALSE_POSITIVE_PERCENT = 21

EYELID_CAUTION = (
    "the score shows anaemia, which has other causes too, and only blood-sucking worms cause it; "
    f"in one study of dairy does {FALSE_POSITIVE_PERCENT} % were false alarms. Weigh before "
    "dosing; product and rate are for the veterinarian and the label to say"
)


class EyelidCase(NamedTuple):
    """One scored animal and what bears on the decision; what is not known keeps its default.

    ``herd_share_pale`` is the share (0 to 1) of the herd scored 4 or 5.
    """

    score: int
    previous_score: int | None = None
    kid: bool = False
    late_pregnant: bool = False
    fresh: bool = False
    condition: Amount | None = None
    herd_share_pale: Amount = 0


class EyelidAnswer(NamedTuple):
    """What the score leans to (``leave``, ``decide``, ``treat``, ``treat now``) and why.

    ``because`` lists what tipped a score of 3.
    """

    score: int
    action: str
    because: tuple[str, ...]
    look_again_days: int
    reason: str
    caution: str


def score_from_packed_cell_volume(pcv_percent: Amount) -> int:
    """The eyelid score whose class holds this packed cell volume, rounded to a whole per cent.

    Raises ValueError outside what a living goat can have.
    """
    value = within(pcv_percent, "the packed cell volume in %", PCV_LEAST_PERCENT, PCV_MOST_PERCENT)
    nearest = (value + Fraction(1, 2)).__floor__()
    for score, lowest in PCV_LOWEST_PERCENT.items():
        if nearest >= lowest:
            return score
    return 5


def judge_eyelid(case: EyelidCase, *, worm_season: bool) -> EyelidAnswer:
    """Say what an eyelid score leans to: 1-2 leave, 3 decide, 4 treat, 5 treat now and call.

    At 3 a kid, a late pregnant, fresh or thin animal, a paler eyelid than last time, or a herd
    with more than a tenth at 4-5 tips the decision. Actions after field-test reports. Raises
    ValueError for scores outside 1-5, shares outside 0-1 and odd condition scores.
    """
    score = whole(case.score, "the eyelid score", 1, 5)
    because = _circumstances(case)
    if score <= 2:
        action, reason = "leave", f"score {score}: red enough to leave alone"
    elif score == 3 and not because:
        action, reason = "decide", "score 3 lies between; nothing recorded tips the decision"
    elif score == 3:
        action, reason = "treat", f"score 3, and {', '.join(because)}: leans to treating"
    elif score == 4:
        action, reason = "treat", "score 4 is pale: leans to treating"
    else:
        action, reason = "treat now", "score 5 is white: treat now and call the veterinarian"
    days = WORM_SEASON_INTERVAL_DAYS if worm_season else OTHER_SEASON_INTERVAL_DAYS
    days = PALE_AGAIN_DAYS if score >= PALE_FROM else days
    return EyelidAnswer(score, action, because, days, reason, EYELID_CAUTION)


def _circumstances(case: EyelidCase) -> tuple[str, ...]:
    pale = share(case.herd_share_pale, "the share of the herd at 4 or 5")
    before = case.previous_score
    paler = before is not None and case.score > whole(before, "the eyelid score before", 1, 5)
    thin = case.condition is not None and condition_score(case.condition) <= THIN_AT_MOST
    signs = (
        (case.kid, "it is a kid"),
        (case.late_pregnant, "late pregnant"),
        (case.fresh, "fresh"),
        (thin, f"thin (condition {THIN_AT_MOST} or less)"),
        (paler, f"paler than last time ({before})"),
        (pale > HERD_SHARE_ALERT, f"{plain(pale * 100)} % of the herd at 4 or 5"),
    )
    return tuple(words for holds, words in signs if holds)
