"""The table of actions holds together: kinds exist, keys arrive everywhere and are unique."""

from __future__ import annotations

import re

import pytest

from herdsync.deeds import DEEDS, PLACES, deeds_of, place_named
from herdsync.kinds import CATALOGUE

PLAIN_KEY = re.compile(r"[a-z0-9]|f([1-9]|1[0-2])|enter|escape|up|down|left|right")


def test_every_kind_a_deed_writes_is_in_the_catalogue() -> None:
    for deed in DEEDS:
        assert set(deed.kinds) <= set(CATALOGUE), deed.id


def test_ids_and_verbs_are_unique() -> None:
    ids = [deed.id for deed in DEEDS]
    verbs = [deed.verb for deed in DEEDS if deed.verb]
    assert len(ids) == len(set(ids))
    assert len(verbs) == len(set(verbs))


def test_the_key_shown_arrives_in_every_terminal() -> None:
    for deed in DEEDS:
        assert bool(deed.keys) == bool(deed.places), deed.id
        assert not deed.keys or PLAIN_KEY.fullmatch(deed.key), deed.id
        assert not any("ctrl" in key for key in deed.keys)


@pytest.mark.parametrize("place", [place.id for place in PLACES] + ["animal"])
def test_one_key_means_one_thing_in_a_place(place: str) -> None:
    keys = [key for deed in deeds_of(place) for key in deed.keys] + [one.key for one in PLACES]
    assert len(keys) == len(set(keys))


def test_help_is_a_sentence() -> None:
    for one in (*DEEDS, *PLACES):
        assert one.help.endswith(".")
        assert len(one.help) <= 72, one.help


def test_a_place_is_named_by_heading_or_digit() -> None:
    assert place_named("Rounds") == PLACES[0]
    assert place_named("6") == PLACES[5]
    assert place_named("nowhere") is None
