"""Whatever is written down, the trade's word on it is a list of sentences and never a fall."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from herdsync.projections.cupboard import medicine_board
from herdsync.projections.egg_trials import family_lines, trial_lines
from herdsync.projections.held import held_animals
from herdsync.projections.herd import Herd
from herdsync.projections.keeping import keeping_lines
from herdsync.projections.kidding_board import kidding_lines
from herdsync.projections.lactations import lactation_lines
from herdsync.projections.marks import mark_line, suggestion
from herdsync.projections.remarks import remarks
from herdsync.projections.screenings import newcomer_lines
from herdsync.projections.screenings import test_lines as screened
from herdsync.projections.worms import worm_lines
from tests.farmyard import Yard
from tests.projections.board import goat_of, herd_at

ODD = st.sampled_from(
    ["1970-01", "2200-12-31T23:59:59Z", "2024-02-29", "2026-02", "2026-03-10T06:00:00+00:00",
     "2026-03-10", "2026-03-09"]
)  # fmt: skip
ML = st.sampled_from([[1, -3, "mL"], [6, 0, "mL"], [10000, 0, "mL"]])
KG = st.sampled_from([[1, -2, "kg"], [34, -1, "kg"], [1000, 0, "kg"], [132, 0, "lb"]])
MILK = st.sampled_from([[0, 0, "kg"], [15, -1, "kg"], [100, 0, "kg"]])
SHARE = st.sampled_from([[0, 0, "%"], [45, -1, "%"], [100, 0, "%"]])
KINDS: dict[str, dict[str, Any]] = {
    "dose": {"product": st.just("product"), "amount_ml": ML, "extra_label": st.booleans()},
    "vaccination": {"product": st.just("product"), "amount_ml": ML},
    "tattoo": {
        "stage": st.sampled_from(["planned", "test-read", "done", "re-read"]),
        "left": st.sampled_from(["V1", "0", "VV", "S9999"]),
        "right": st.sampled_from(["QMR", "K2", "\u202eX"]),
        "legibility_left": st.sampled_from(["clear", "faint"]),
    },
    "temperature": {
        "temperature_c": st.sampled_from([[20, 0, "C"], [1041, -1, "F"]]),
        "pulse_per_min": st.integers(0, 400),
    },
    "eyelid-score": {"score": st.integers(1, 5)},
    "condition-score": {"score": st.sampled_from([[2, 0, "pt"], [33, -1, "pt"], [5, 0, "pt"]])},
    "egg-count": {
        "eggs": st.sampled_from([0, 27, 1_000_000]),
        "factor": st.sampled_from([1, 50]),
        "sampled": st.sampled_from(["before", "after", "control", "routine"]),
        "trial": st.just("spring"),
    },
    "weighing": {"weight_kg": KG},
    "weaning": {},
    "castration": {
        "method": st.sampled_from(["ring", "clamp", "surgical"]),
        "testes": st.integers(0, 2),
        "complete": st.booleans(),
    },
    "disbudding": {
        "applications": st.integers(1, 10),
        "seconds": st.sampled_from([[1, -1, "s"], [20, 0, "s"]]),
    },
    "disease-test": {
        "disease": st.sampled_from(["CAE", "Johne's", "something else"]),
        "result": st.sampled_from(["negative", "positive", "pending"]),
        "sensitivity_percent": SHARE,
        "specificity_percent": SHARE,
    },
    "arrival": {},
    "leaving": {"how": st.just("sold")},
    "feeding": {"what": st.just("colostrum"), "amount_ml": ML},
}
DOES: dict[str, dict[str, Any]] = {
    "mating": {"how": st.sampled_from(["hand", "pen", "ai"]), "buck": st.just("buck")},
    "heat": {},
    "pregnancy-check": {
        "result": st.sampled_from(["open", "bred", "lost"]),
        "how": st.sampled_from(["scan", "blood", "no-return"]),
    },
    "kidding": {"born_alive": st.integers(0, 7)},
    "dry-off": {},
    "milk": {"milk_kg": MILK, "sold": st.booleans(), "milking": st.sampled_from(["am", "pm"])},
    "test-day": {
        "milk_kg": MILK,
        "fat_percent": SHARE,
        "cells_per_ml": st.sampled_from([0, 10**8]),
    },
}
WRITTEN = st.one_of(
    *(
        st.tuples(st.just(kind), st.fixed_dictionaries({}, optional={**fields, "on": ODD}))
        for kind, fields in {**KINDS, **DOES}.items()
    )
)
NEEDED = {
    "dose": ("product",), "vaccination": ("product",), "tattoo": ("stage",),
    "temperature": ("temperature_c",), "eyelid-score": ("score",), "condition-score": ("score",),
    "egg-count": ("eggs",), "weighing": ("weight_kg",), "disease-test": ("disease",),
    "leaving": ("how",), "feeding": ("what",), "pregnancy-check": ("result",),
    "milk": ("milk_kg",),
}  # fmt: skip


def told_of(herd: Herd, ids: list[bytes]) -> list[str]:
    """Every sentence on the records, and every board, asked for once."""
    found = []
    for id in ids:
        record = herd.records.get(id)
        assert record is not None
        about = record.value("animal") or record.value("doe")
        goat = herd.goat(about) if isinstance(about, bytes) else None
        found += list(remarks(herd, record, goat))
    trials = trial_lines(herd)
    boards: list[object] = [
        medicine_board(herd), trials, family_lines(trials), held_animals(herd, herd.every),
        keeping_lines(herd), kidding_lines(herd), lactation_lines(herd.every, every=True),
        [mark_line(goat) for goat in herd.every], suggestion(herd, 2026, "house", []),
        screened(herd), newcomer_lines(herd), worm_lines(herd, herd.every),
    ]  # fmt: skip
    assert len(boards) == 12
    return found


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(WRITTEN, max_size=6),
    st.sampled_from(["1970-01", "2026-03-10", "2026-03-10T09:00:00+00:00", "2022-02-17"]),
    st.sampled_from(["doe", "buck", "unknown"]),
)
def test_no_record_makes_a_remark_fall(
    acts: list[tuple[str, dict[str, Any]]], born: str, sex: str
) -> None:
    yard = Yard()
    product = yard.write(
        "house", "product", substance="Fenstone", strength_mg_per_ml=[1, 0, "mg/mL"],
        rate_mg_per_kg=[1, 0, "mg/kg"], route="in-muscle", interval_h=[24, 0, "h"],
        course_doses=3, milk_h=[96, 0, "h"], meat_d=[28, 0, "d"], expiry="2026-01-01", lot="L1",
        extra_label=True,
    )  # fmt: skip
    yard.write("house", "setting", key="country", value="GB")
    buck = yard.animal("Basalt", sex="buck", born="2020-03-01", horns_born="polled")
    dam = yard.animal("Agate", sex="doe", born="2020-03-01")
    goat = yard.animal("Shale", sex=sex, born=born, dam=dam, horns_born="polled", size="standard")
    named = {"product": product, "buck": buck}
    ids = [product, goat]
    for kind, fields in acts:
        if any(field not in fields for field in NEEDED.get(kind, ())):
            continue
        values: dict[str, Any] = {name: named.get(value, value) if isinstance(value, str) else value
                  for name, value in fields.items()}  # fmt: skip
        values.setdefault("on", "2026-03-10T06:00:00+00:00")
        subject = "doe" if kind in DOES else "animal"
        ids.append(yard.write("house", kind, **{subject: goat, **values}))
    herd = herd_at(yard, "2026-03-10T08:00:00+00:00")
    for sentence in told_of(herd, ids):
        assert (sentence and sentence[-1] in ".!)") or "herdsync amend" in sentence


def test_a_remark_on_a_retracted_record_is_not_made() -> None:
    yard = Yard()
    goat = yard.animal("Agate", sex="doe", born="2020-03-01")
    milk = yard.write("house", "milk", doe=goat, on="2026-03-10", milk_kg=[1, 0, "kg"], sold=True)
    yard.retract("house", milk)
    herd = herd_at(yard, "2026-03-10")
    assert goat_of(herd, goat).done("milk") == []


@pytest.mark.parametrize("times", [1, 2])
def test_a_bucklings_bud_wants_the_iron_twice(times: int) -> None:
    """Common practice, no published source: two overlapping applications on a buckling's bud."""
    yard = Yard()
    kid = yard.animal("Shale", sex="buck", born="2026-03-05", horns_born="horned")
    done = yard.write("house", "disbudding", animal=kid, on="2026-03-10", applications=times)
    herd = herd_at(yard, "2026-03-10")
    record = herd.records.get(done)
    assert record is not None
    told = list(remarks(herd, record, goat_of(herd, kid)))
    assert any("set on twice" in one for one in told) == (times == 1)
