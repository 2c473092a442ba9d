"""Which tests are to notice a change in which module: the rooms whose every slip would matter."""

from __future__ import annotations

from pathlib import Path

LOG = {
    "canonical": "test_canonical",
    "chain": "test_chains",
    "entry": "test_entry",
    "proof": "test_proof",
    "recovery": "test_published",
    "signing": "test_published test_edge_signatures test_entry",
    "stewardship": "test_trust test_stewardship",
    "trust": "test_trust test_entry",
    "writer": "test_chains test_trust",
}
MERGE = {
    "called": "test_rules test_records",
    "conflicts": "test_conflicts test_joins test_told",
    "fold": "test_records test_conflicts test_joins test_act_by_act test_told",
    "folding": "test_records test_conflicts test_joins test_safety",
    "lone": "test_lone test_records",
    "memory_shelf": "test_records test_rules test_newest",
    "newest": "test_newest test_records",
    "payloads": "test_records test_conflicts test_joins",
    "pedigree": "test_rules",
    "records": "test_records test_conflicts test_safety test_told",
    "replica": "test_records test_promises",
    "rules": "test_rules test_act_by_act",
    "shelf": "test_newest test_rules test_records",
}
TRADE = {
    "castration": "test_procedures test_rules",
    "completeness": "test_pedigree",
    "condition": "test_parasites",
    "courses": "test_medicine test_bounds_of_time",
    "dates": "test_dates test_bounds_of_time test_rules",
    "disbudding": "test_procedures",
    "dosing": "test_dosing_bounds test_medicine test_rules",
    "egg_count": "test_parasites",
    "egg_reduction": "test_egg_reduction test_rules",
    "feed": "test_feed test_rules",
    "feed_table": "test_feed",
    "gain_band": "test_gain_band",
    "girth": "test_medicine",
    "identity": "test_identity",
    "kids": "test_kids test_gain_band test_rules",
    "kinship": "test_relationship",
    "lactation": "test_milk",
    "law": "test_procedures",
    "maturity": "test_procedures",
    "milk": "test_milk",
    "parasites": "test_parasites",
    "pedigree": "test_pedigree test_relationship test_rules",
    "quantiles": "test_quantiles",
    "relationship": "test_relationship test_pedigree test_rules",
    "reproduction": "test_reproduction test_rules test_kids",
    "screening": "test_screening",
    "tetanus": "test_procedures",
    "trace_minerals": "test_feed",
    "units": "test_units",
    "vaccination": "test_procedures",
    "vitals": "test_kids",
    "withdrawal": "test_withdrawal test_rules",
}
HOLDS = {
    "holds": "test_holds",
    "withholding": "test_holds test_answers test_timers",
    "verdicts": "test_holds",
}
ROOMS = {
    "log": ("herdsync/log", "tests/log", LOG),
    "merge": ("herdsync/merge", "tests/merge", MERGE),
    "trade": ("herdsync/trade", "tests/trade", TRADE),
    "holds": ("herdsync/projections", "tests/projections", HOLDS),
}


def modules_of(room: str) -> list[tuple[Path, list[str]]]:
    """The modules of a room, each with the files of its tests."""
    folder, tests, table = ROOMS[room]
    return [
        (Path(folder) / f"{module}.py", [f"{tests}/{one}.py" for one in names.split()])
        for module, names in table.items()
    ]
