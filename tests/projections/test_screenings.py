"""Disease tests of the herd: what stands first, and what is said of an animal that was too young."""

from herdsync.projections.screenings import test_lines as screened
from tests.farmyard import Yard
from tests.projections.board import goat_of, herd_at, rounds_at


def test_what_is_not_negative_stands_first_and_keeps_its_animal_from_leaving() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    opal = yard.animal("Opal", sex="doe", born="2020-03-01")
    yard.write(
        "house", "disease-test", animal=agate, disease="CAE", result="negative", on="2025-01-02"
    )
    yard.write(
        "house", "disease-test", animal=opal, disease="CAE", result="positive", on="2025-05-02"
    )
    herd = herd_at(yard, "2025-05-05")
    assert [(line.name, line.result) for line in screened(herd)] == [
        ("Opal", "positive"), ("Agate", "negative"),
    ]  # fmt: skip
    rounds = rounds_at(yard, "2025-05-05")
    held = {hold.what: hold.reason for hold in rounds.holds_of(goat_of(rounds.herd, opal))}
    assert held["not to leave"] == "the newest test for CAE is positive"


def test_that_an_animal_was_too_young_is_said_of_it_alone() -> None:
    # Johne's disease tells in grown animals only (from memory).
    yard = Yard()
    old = yard.animal("Agate", sex="doe", born="2018-03-01")
    kid = yard.animal("Topaz", sex="doe", born="2025-01-01")
    for animal in (old, kid):
        yard.write(
            "house", "disease-test", animal=animal, disease="Johnes", result="negative",
            on="2025-04-02",
        )  # fmt: skip
    lines = {line.name: line for line in screened(herd_at(yard, "2025-05-05"))}
    assert lines["Agate"].says == lines["Topaz"].says
    assert lines["Agate"].too_young == ""
    assert lines["Topaz"].too_young.startswith("Topaz was too young on 2025-04-02")
