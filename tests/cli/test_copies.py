"""One key on two machines: told at the exchange, with the laptops and by verify; repaired without loss."""

from __future__ import annotations

import shutil

from tests.cli.laptops import Laptops


def copied(pair: Laptops) -> None:
    """Barn's whole disk is copied, and both write on."""
    folder = pair.stage.folder
    for name in ("barn", "barn-keys"):
        shutil.copytree(folder / name, folder / name.replace("barn", "copy"))
    pair.ask("barn", "record", "animal", "name=Agate", "sex=doe")
    pair.ask("copy", "record", "animal", "name=Basalt", "sex=buck")
    for laptop in ("barn", "copy"):
        pair.ask(laptop, "exchange", pair.stick)


def names(pair: Laptops, laptop: str) -> set[str]:
    return {line["name"] for line in pair.ask(laptop, "herd")}


def test_two_copies_of_one_laptop_are_told_wherever_a_keeper_looks(pair: Laptops) -> None:
    copied(pair)
    for _ in range(2):
        moved = pair.ask("house", "exchange", pair.stick)
        (told,) = moved["noticed"]
        assert told["what"] == "laptop barn" and "continued in 2 copies" in told["why"]
        assert moved["refused"] == []
    for verb in (["exchange", pair.stick], ["devices"], ["verify"]):
        said = " ".join(pair.type("house", *verb).out.split())
        assert "continued in 2 copies" in said and "herdsync remove" in said, verb
    assert names(pair, "house") == {"Agate", "Basalt"}


def test_putting_the_key_out_keeps_both_copies_and_the_laptop_joins_afresh(pair: Laptops) -> None:
    copied(pair)
    pair.ask("house", "exchange", pair.stick)
    pair.ask("house", "remove", "barn", "--because", "its disk was copied")
    moved = pair.ask("house", "exchange", pair.stick)
    assert moved["noticed"] == [] and pair.ask("house", "unvouched") == []
    assert "herdsync remove" not in pair.type("house", "devices").out
    code = pair.ask("loft", "join", pair.stick, "--keeper", "Ravi", "--device", "loft")["code"]
    pair.ask("house", "admit", pair.stick, "--code", code)
    pair.ask("loft", "exchange", pair.stick)
    assert names(pair, "house") == names(pair, "loft") == {"Agate", "Basalt"}
    # That it happened stays on record; what a copy goes on to write waits for a keeper's word.
    assert "2 copies" in pair.ask("loft", "verify")["forks"][0]
    pair.ask("copy", "record", "animal", "name=Mica", "sex=doe")
    pair.ask("copy", "exchange", pair.stick)
    assert pair.ask("house", "exchange", pair.stick)["unvouched"] == 1
    assert names(pair, "house") == {"Agate", "Basalt"}
    assert len(pair.ask("house", "unvouched")) > 0
