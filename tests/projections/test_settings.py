"""Settings: defaults, what is set, what cannot be used, what a newer program set."""

from __future__ import annotations

from datetime import time

import pytest

from herdsync.projections.settings import SETTINGS, check_setting, setting_lines, settings_of
from tests.farmyard import Yard


def test_defaults_count_where_nothing_is_set() -> None:
    settings = settings_of(Yard().records())
    assert (settings.zone.key, settings.letters, settings.hoof_days) == ("UTC", "dairy", 56)
    assert settings.morning == time(6, 30)


def test_every_setting_explains_itself() -> None:
    lines = setting_lines(Yard().records())
    assert [line.key for line in lines] == [setting.key for setting in SETTINGS]
    assert all(line.help.endswith(".") and not line.disputed for line in lines)


def test_what_cannot_be_used_is_passed_over_and_said() -> None:
    yard = Yard()
    yard.write("house", "setting", key="zone", value="Mars/Olympus")
    yard.write("house", "setting", key="hoof-days", value="9")
    yard.write("house", "setting", key="snow-depth", value="deep")
    records = yard.records()
    settings = settings_of(records)
    assert (settings.zone.key, settings.hoof_days) == ("UTC", 56)
    lines = {line.key: line for line in setting_lines(records)}
    assert "cannot be used" in lines["hoof-days"].help and "56 counts" in lines["hoof-days"].help
    assert lines["snow-depth"].value == "deep"


def test_a_disputed_setting_is_marked() -> None:
    yard = Yard()
    yard.write("house", "setting", key="prefix", value="QMR")
    yard.write("barn", "setting", key="prefix", value="QMD")
    yard.meet()
    lines = {line.key: line for line in setting_lines(yard.records())}
    assert lines["prefix"].disputed
    assert settings_of(yard.records()).prefix in ("QMR", "QMD")


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("zone", "../etc/passwd"), ("letters", "gold"), ("prefix", "ABCDE"), ("prefix", "K2"),
        ("morning", "25:00"), ("worm-months", "4,4"), ("worm-months", "0"),
        ("letters-announced", "2026=VV"), ("country", "?!"), ("no-such-key", "1"),
        ("gestation-standard", "160"), ("hoof-days", "5.5"), ("hoof-days", "\u0665\u0666"),
    ],
)  # fmt: skip
def test_impossible_settings_are_refused_with_what_to_write(key: str, text: str) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        check_setting(key, text)
