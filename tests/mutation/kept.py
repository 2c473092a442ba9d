"""Changes that no test notices and why that is right: they make no difference that anyone could see.

As much of a line as names the place (the change begins within it), the change, and the reason.
"""

from __future__ import annotations

import re

BEYOND = "what began a month before ended too early for any rule: the reach has a day in hand"
MANY = "so many parts are refused in any case, in another sentence"
STORE = "the store's own bound: held to its number in tests/store/test_intake.py"
GUARD = "a round bound against slips of the keys: the number beside it guards as well"
MORE = "keeps in an act that the rules then pass: slower, never fewer"
PLAN = "the shipped care plan is held to it in tests/projections/test_plan_figures.py"
SLOW = "only keeps in view a dose that holds nothing any more: slower, never shorter"
UNSEEN = (
    "what was not seen lies before every sequence, which is 0 or more: as -2 no less than as -1"
)

KEPT: dict[str, list[tuple[str, str, str]]] = {
    "canonical": [
        ("0xDD: (4, 0x1_0000)", "4 -> 5", MANY),
        ("0xDD: (4, 0x1_0000)", "65536 -> 65537", MANY),
        ("0xDF: (4, 0x1_0000)", "4 -> 5", MANY),
        ("0xDF: (4, 0x1_0000)", "65536 -> 65537", MANY),
    ],
    "limits": [
        ("PARKED_ENTRIES = 10_000", "10000 -> 10001", STORE),
        ("64 * 1024 * 1024", "64 -> 65", STORE),
        ("64 * 1024 * 1024", "1024 -> 1025", STORE),
        ("64 * 1024 * 1024", "Mult -> Add", STORE),
        ("BATCH_ALL_CHECKED = 1_000", "1000 -> 1001", STORE),
    ],
    "stewardship": [
        ("own=False", "False -> True", "adopting is never a matter of what is one's own"),
    ],
    "entry": [
        ("ids and 0 <= place.sequence", "LtE -> Lt", "the long way says the same"),
        ("ids and 0", "0 -> 1", "the long way says the same"),
        ("len(place.farm) ==", "Eq -> NotEq", "the long way says the same"),
        ("return within and not", "returns None", "the long way says the same"),
        ("len(header_bytes) <= HEADER_BYTES", "LtE -> Lt", "the long way says the same"),
        ("len(packed) > HEADER_BYTES", "Gt -> GtE", "packed it is always smaller than its bound"),
        ("0x7F", "127 -> 128", "refused either way, in another sentence"),
    ],
    "shelf": [
        ("most + 1", "1 -> 2", "one row more than is needed to tell that some are left out"),
        (
            "most: int = -1",
            "1 -> 2",
            "any number below nought asks for all; each shelf has its own",
        ),
        ("kind not in _KEYED or kind", "and <-> or", "the long way says the same"),
        ("not any(many", "not dropped", "no kind names a set of records: the long way is the same"),
        ("for one in only if type(one)", "Is -> IsNot", "no kind names a set of records so far"),
        (
            "record.kind == pedigree.ANIMAL and rule",
            "and <-> or",
            "of the kinds with keys animals have a pair rule, and they alone",
        ),
    ],
    "rules": [
        ("ONE_DATE = timedelta(hours=50)", "50 -> 51", MORE),
        ("_DAY = timedelta(days=1)", "1 -> 2", MORE),
        ("kind.on is not None and record", "and <-> or", MORE),
        ("not timed(kind, rule)", "not dropped", MORE),
        ("first.replace(day=1,", "1 -> 2", "its first day is then the second place looked at"),
        ("microsecond=0)", "0 -> 1", "told in whole milliseconds"),
        ("(month - _DAY).replace(day=1)", "Sub -> Add", BEYOND),
        ("(month - _DAY).replace(day=1)", "1 -> 2", BEYOND),
    ],
    "records": [
        ("len(told) > 1 and spec", "Gt -> GtE", "the strictest of one is that one"),
        ("len(told) == 1 and told[0]", "1 -> 2", "the long way says the same"),
    ],
    "payloads": [
        (
            'type(fields := payload.get("fields")) is dict',
            "Is -> IsNot",
            "the long way says the same",
        ),
    ],
    "memory_shelf": [
        ("(last + 1", "1 -> 2", MORE),
        ("most: int = -1", "1 -> 2", "all are at hand, however many are asked for"),
    ],
    "lone": [
        ("field == STANDS", "Eq -> NotEq", "the long way says the same"),
        ("not vouched and", "and <-> or", "the long way says the same"),
    ],
    "fold": [
        ("times > 1", "Gt -> GtE", "the long way says the same, record by record"),
        (
            "own=False",
            "False -> True",
            "nobody may accept what is their own alone: role and verb decide",
        ),
        ("len(set(ids)) < len(ids)", "Lt -> LtE", "where none is doubled none is found"),
        ("bool(kinds[0])", "0 -> 1", "asked of either: they must be equal"),
        ("one is not None and one.id in changed", "and <-> or", MORE),
        (
            "{a, b} <= set(record.ids)",
            "LtE -> Lt",
            "two that only they themselves join are not said to differ: a third makes the set larger",
        ),
        ("len(group) > 1 or", "Gt -> GtE", MORE),
        ("len(before.ids) > 1", "Gt -> GtE", MORE),
    ],
    "beside": [
        ("len(tellers) - 2", "2 -> 3", MORE),
        ("strict=True", "True -> False", "both lists have one entry for each"),
        ("spec.on is not None and", "and <-> or", MORE),
        ("acts[place] is not record", "IsNot -> Is", MORE),
        (
            "type(subject := fields.get(watch.subject)) is bytes and",
            "and <-> or",
            "what is held against times tells both; the rules pass the rest",
        ),
        ("ends[first] >= last", "GtE -> Gt", MORE),
        ("tellers[n] != own", "NotEq -> Eq", MORE),
        ("len(tellers) + 1", "1 -> 2", "one place more that nothing reads"),
        ("-1, -1)", "1 -> 2", MORE),
        ("tellers[place] == tellers[place + 1]", "IsNot -> Is", MORE),
        ("place + 1]", "Add -> Sub", MORE),
        ("watch.pair is None", "Is -> IsNot", MORE),
        ("isinstance(another, str) and", "and <-> or", MORE),
    ],
    "withholding": [
        ("return dose.fields", "returns None", SLOW),
        ("return claims[0].values", "returns None", SLOW),
        ("return day + timedelta", "returns None", SLOW),
        ("return goat.look.longest[key]", "returns None", SLOW),
        ("len(claims) != 1", "NotEq -> Eq", SLOW),
        ("1 or len(times)", "1 -> 2", SLOW),
        ("len(times) != 1", "NotEq -> Eq", SLOW),
        ("1 or FIELDS", "1 -> 2", SLOW),
        ("_longest_plain(goat, product, what) if", "branches exchanged", SLOW),
        (
            "day + timedelta(days=longest) < goat",
            "Lt -> LtE",
            "two days are kept in hand: a day sooner is late enough",
        ),
        ("record is not None", "IsNot -> Is", SLOW),
        ('set(record.safety_values("counted_from"))', "LtE -> Lt", SLOW),
        ("hour / 24", "Div -> Mult", SLOW),
        ("Fraction(0)", "0 -> 1", "without any period nothing is sure"),
        ("days <= UNKNOWN_OVER_DAYS", "LtE -> Lt", SLOW),
        ("+ 2", "2 -> 3", SLOW),
        (
            "over if goat.look.moment > over",
            "Gt -> GtE",
            "at that very instant it holds either way",
        ),
    ],
    "exposure": [
        (
            "left >= until",
            "GtE -> Gt",
            "away from the end of a stay on or not: the stay ends there",
        ),
        (
            "back <= since",
            "LtE -> Lt",
            "back before a stay began or as it began: nothing is taken off",
        ),
    ],
    "vitals": [
        ("30", "30 -> 31", GUARD),
        ("45", "45 -> 46", GUARD),
        ("TEMP_LEAST_C <= value", "LtE -> Lt", GUARD),
    ],
    "vaccination": [
        ("42", "42 -> 43", PLAN),
        ("14", "14 -> 15", PLAN),
    ],
    "units": [
        ("LARGEST_EXPONENT = 30", "30 -> 31", GUARD),
        ("exponent < -LARGEST_EXPONENT", "Lt -> LtE", GUARD),
        ("amount.adjusted() > LARGEST_EXPONENT", "Gt -> GtE", GUARD),
    ],
    "screening": [
        ("LONGEST_INTERVAL_MONTHS = 120", "120 -> 121", GUARD),
        ("LONGEST_KEEPING_YEARS = 100", "100 -> 101", GUARD),
        ("365)", "365 -> 366", GUARD),
        ("10_000", "10000 -> 10001", GUARD),
    ],
    "quantiles": [
        ("0.0 < probability < 1.0", "Lt -> LtE", "asked of 0 it asks itself of 1 and refuses that"),
        ("20_000", "20000 -> 20001", GUARD),
        ("200", "200 -> 201", GUARD),
        ("x < (a + 1.0)", "Lt -> LtE", "where both ways meet both give the same to the last digit"),
        (
            "incomplete_beta(middle, a, b) < probability",
            "Lt -> LtE",
            "a root that is hit exactly stays a bound of the halving either way",
        ),
        (
            "both_tails < 0.5",
            "Lt -> LtE",
            "where both ways meet both give the same to the last digit",
        ),
        ("abs(c * d - 1.0) < _CLOSE", "Lt -> LtE", "one term more or less at the 15th digit"),
        ("abs(value) > _TINY", "Gt -> GtE", "the tiny value stands for itself"),
    ],
    "pedigree": [
        ("begun & set(knot)", "BitAnd -> BitOr", "finds a loop once more that is known already"),
        ("animal.kind != ANIMAL or", "and <-> or", MORE),
        (
            "span(when, _UTC)[1]",
            "LtE -> Lt",
            "spans of days end before the next begins: never equal",
        ),
        ('"0123456789"', "'0123456789' -> '10123456789'", "the same digits"),
        (
            "not any(isinstance(one, bytes)",
            "and <-> or",
            "one key more, under which nothing is looked for",
        ),
        ("DEEPEST_GENERATIONS = 250", "250 -> 251", GUARD),
        ("depth > DEEPEST_GENERATIONS", "Gt -> GtE", GUARD),
    ],
    "parasites": [
        ("PCV_LEAST_PERCENT = 1", "1 -> 2", GUARD),
        ("OTHER_SEASON_INTERVAL_DAYS = 28", "28 -> 29", PLAN),
    ],
    "milk": [
        ("100_000_000", "100000000 -> 100000001", GUARD),
        ("100_000)", "100000 -> 100001", "does not show in four decimals"),
    ],
    "lactation": [
        ("1, 3650)", "3650 -> 3651", GUARD),
        ("cut >= end", "GtE -> Gt", "a cut on the last day cuts nothing: both ways give one yield"),
        ("day >= days", "GtE -> Gt", "from a test on the last day on no day is left to add"),
    ],
    "kinship": [
        (
            "8192",
            "8192 -> 8193",
            "the long integers may be wider, or hold more or fewer rows: the same sums",
        ),
        ("default=0)", "0 -> 1", "one place more in whole numbers: the same fractions"),
        (
            "3 * self._places",
            "3 -> 4",
            "the long integers may be wider, or hold more or fewer rows: the same sums",
        ),
        (
            "+ 3",
            "3 -> 4",
            "the long integers may be wider, or hold more or fewer rows: the same sums",
        ),
        (
            "(1 << self._lane_bits)",
            "1 -> 2",
            "the rows of parents leave the lowest places of a lane empty: room for a kid's",
        ),
        ("- 1", "1 -> 2", "the lowest bit is halved away at once"),
        ("1 << (2 *", "1 -> 2", "one place more in whole numbers: the same fractions"),
        (
            "2 * self._places",
            "2 -> 3",
            "more places, the same fractions: sums of lanes may overlap on the way",
        ),
        ("[0] * len(book.ids)", "0 -> 1", "set before it is read: by generations, parents first"),
        ("len(self._book.ids) - 1", "Sub -> Add", "the slice ends with the book"),
        (
            "max(1, BITS",
            "1 -> 2",
            "the long integers may be wider, or hold more or fewer rows: the same sums",
        ),
        (
            "BITS_AT_ONCE // self",
            "FloorDiv -> Mult",
            "the long integers may be wider, or hold more or fewer rows: the same sums",
        ),
        ("(len(sires) + 1)", "1 -> 2", "one slot more that nothing is read from"),
        ("last + 1", "1 -> 2", "one row more than is asked for"),
        ("strict=True", "True -> False", "both lists have one entry for each animal"),
    ],
    "kids": [
        ("BOTTLE_FROM_DAYS = 4", "4 -> 5", PLAN),
        ("MOST_BORN = 7", "7 -> 8", GUARD),
        ("1, 400)", "400 -> 401", GUARD),
    ],
    "identity": [
        (
            "(n - start) % stride",
            "Sub -> Add",
            "the stride is 1 or 2: sum and difference leave the same",
        ),
    ],
    "completeness": [
        ("default=0) + 1", "0 -> 1", "one place more in whole numbers: the same fractions"),
        ("default=0) + 1", "1 -> 2", "one place more in whole numbers: the same fractions"),
    ],
    "disbudding": [
        ('"unknown": (4, 5, 7)', "5 -> 6", PLAN),
        ("3650", "3650 -> 3651", GUARD),
        ("days > SCUR_HORIZON_DAYS", "Gt -> GtE", GUARD),
    ],
    "egg_count": [("100_000", "100000 -> 100001", GUARD)],
    "egg_reduction": [
        (
            "SAMPLE_AFTER_DAYS = 14",
            "14 -> 15",
            "from memory, and told as what is usual: nothing to hold it to",
        ),
        (
            "strict=True",
            "True -> False",
            "both samples are of one length, which was looked at before",
        ),
        ("a - one.mean", "Sub -> Add", "distances from the other mean sum to nothing"),
        ("b - other.mean", "Sub -> Add", "distances from the other mean sum to nothing"),
    ],
    "chain": [
        ("if step else -1", "1 -> 2", UNSEEN),
        ("reach > past.get", "Gt -> GtE", "what is known is noted once more"),
        ("reach > had.get", "Gt -> GtE", "what is known is noted once more"),
        ("chain.device == header.device", "returns None", "the long way says the same"),
        ("return (", "returns None", "the long way says the same"),
        ("chain.tip_sequence + 1", "Add -> Sub", "the long way says the same"),
        ("chain.tip_height + 1", "Add -> Sub", "the long way says the same"),
        (".get(other, -1)", "1 -> 2", UNSEEN),
        (".get(chain.number, -1)", "1 -> 2", UNSEEN),
        ("past.get(other, -1)", "1 -> 2", UNSEEN),
        (".get(place.chain, -1)", "1 -> 2", UNSEEN),
        ('b"", -1, -1, entry.id', "1 -> 2", "told anew at once, by the entry that opens the chain"),
        (
            "sequence - 1)",
            "Sub -> Add",
            "of what comes after the entry before nothing is noted yet",
        ),
        (".get(earlier.chain, -1) >= earlier.sequence", "1 -> 2", UNSEEN),
        ("past.get(chain.number, -1) < chain.tip_sequence", "1 -> 2", UNSEEN),
    ],
}


# Figures of a table that nothing published was at hand to be held to.
FROM_MEMORY: dict[str, tuple[str, str]] = {
    "girth": (
        r'^        \("[\d.]+", \d+\),$',
        "from memory; rows that are printed are tried, all by the line of their neighbours",
    ),
}


def why_kept(module: str, line: str, column: int, change: str) -> str:
    """Why this change at this place of a line may go unnoticed; empty where nothing says so."""
    for text, what, reason in KEPT.get(module, []):
        start = line.find(text)
        if what == change and start >= 0 and start <= column < start + len(text):
            return reason
    table, reason = FROM_MEMORY.get(module, ("", ""))
    return reason if table and re.match(table, line) else ""
