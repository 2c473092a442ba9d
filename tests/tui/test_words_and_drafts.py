"""The words of the screens and what a draft asks: pure, without a screen."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from textual.theme import Theme

from herdsync.answers import DueLine
from herdsync.farm import Farm
from herdsync.kinds import CATALOGUE
from herdsync.wall import Wall
from tests.tui.fake_farm import FakeFarm, due_line, herd_line
from tests.tui.test_real_farm import MORNING, founded, keys_elsewhere
from tui import theme, words
from tui.drafts import ASKED_FIRST, ONE_FIGURE, WORTH_ASKING, Draft, draft_of, drafts_of
from tui.pages import pictures, rounds, trail
from tui.pages.page import TONES
from tui.plain import page_lines

__all__ = ["keys_elsewhere"]

NOW = datetime(2026, 3, 28, 22, 0, tzinfo=ZoneInfo("Europe/Berlin"))


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (59, "00:59"), (3599, "59:59"), (3600, "1 h 00 min"), (47 * 3600, "47 h 00 min"),
        (49 * 3600, "2 d 01 h"), (0, "0 h past"), (-200_000, "2 d past"),
    ],
)  # fmt: skip
def test_countdowns(seconds: int, said: str) -> None:
    assert words.countdown(seconds) == said


def test_a_countdown_over_the_change_of_clocks_counts_real_hours() -> None:
    # Clocks go forward at 02:00 on 29 March 2026 in Berlin (tz database): the night is an hour short.
    assert words.seconds_left("2026-03-29T06:00:00+02:00", NOW) == 7 * 3600


def test_days_as_a_keeper_says_them() -> None:
    assert words.day_word("2026-03-28", NOW) == "today"
    assert words.day_word("2026-03-29T06:30:00+02:00", NOW) == "tomorrow 06:30"
    assert words.day_word("2026-04-01", NOW) == "Wed 1 Apr"
    assert words.day_word("2027-04-01", NOW) == "1 Apr 2027"
    assert words.day_word("2026-03", NOW) == "2026-03"
    assert words.stamp("2026-03-28T18:15:00+01:00", NOW) == "today 18:15"


def test_until_when_work_can_wait() -> None:
    line = due_line("w", "Agate", "Pen", "weaning", "weaning", closes="2026-03-20", state="late")
    assert words.until(line, NOW) == "8 d late"
    line = due_line("w", "Agate", "Pen", "weaning", "weaning", closes="2026-03-28T23:00:00+01:00")
    assert words.until(line, NOW) == "by 23:00"
    line = due_line("w", "A", "Pen", "weaning", "weaning", state="ahead", opens="2026-05-02")
    assert words.until(line, NOW) == "from 2 May"
    # An evening's chore that closes with the morning is no matter of tomorrow evening.
    line = due_line("w", "Agate", "Pen", "milk", "milk", closes="2026-03-29T06:30:00+02:00")
    assert words.until(line, NOW) == "by 06:30"
    line = due_line("w", "Agate", "Pen", "milk", "milk", closes="2026-03-30T06:30:00+02:00")
    assert words.until(line, NOW) == "in 2 d"


@pytest.mark.parametrize(
    ("due", "closes", "said"),
    [
        ("2026-03-28T06:30:00+01:00", "2026-03-28T18:00:00+01:00", "was 06:30"),
        ("2026-03-27T18:00:00+01:00", "2026-03-28T06:30:00+01:00", "was 27 Mar"),
        ("2026-03-20", "2026-03-22", "was 22 Mar"),
        ("2025-03-20", "", "was 20 Mar 2025"),
    ],
)  # fmt: skip
def test_what_was_missed_says_when_it_would_have_been(due: str, closes: str, said: str) -> None:
    line = due_line("w", "Agate", "Pen", "milk", "milk", state="missed", due=due, closes=closes)
    assert words.until(line, NOW) == said


def test_dates_within_a_sentence_are_as_short_as_a_column_needs() -> None:
    assert words.dated("bred, due 2026-08-12", NOW) == "bred, due 12 Aug"
    assert words.dated("apart until 2028-01-02", NOW) == "apart until 2 Jan 2028"
    assert words.dated("tag 12026-08-12", NOW) == "tag 12026-08-12"


def test_every_state_has_a_mark_of_its_own_and_a_tone() -> None:
    marks = [mark for mark, _ in words.STATES.values()]
    assert len(set(marks)) == len(marks)
    assert set(words.STATES) <= set(TONES)


def test_labels_name_the_unit_a_bare_number_means() -> None:
    assert words.label("weight_kg") == "weight (kg)" and words.label("on") == "when"
    assert words.label("said_by") == "said by" and words.label("milk_h") == "milk (hours)"


def test_what_forms_ask_first_are_fields_of_their_kinds() -> None:
    for name, fields in ASKED_FIRST.items():
        assert set(fields) <= set(CATALOGUE[name].fields), name
    for name, field in ONE_FIGURE.items():
        assert field in CATALOGUE[name].fields
    assert set(CATALOGUE) >= WORTH_ASKING


def test_no_field_is_out_of_reach_of_its_form() -> None:
    for kind in CATALOGUE.values():
        first, more = Draft(kind, {}, [("id", "Agate")]).asked()
        subject = {kind.subject} if kind.subject else set()
        assert sorted([*first, *more]) == sorted(set(kind.fields) - subject), kind.name


def test_work_with_a_caution_or_a_question_is_never_written_at_once() -> None:
    for kind in CATALOGUE.values():
        draft = Draft(kind, {}, [("id", "Agate")])
        assert draft.plain is False or (not kind.caution and not draft.missing)
    barred = due_line("w", "A", "Pen", "weaning", "weaning", state="barred", blocks=["milk held"])
    assert "In the way: milk held" in draft_of(barred, NOW).warned


def test_a_caution_stands_before_the_reason_where_little_is_seen_of_either() -> None:
    line = due_line("w", "Agate", "Pen", "disbudding", "disbud", caution="Hot iron.", reason="6 d")
    labels = [fact.label for fact in rounds.line_facts(line, None, NOW)]
    assert labels.index("! Caution") < labels.index("Why")


def test_work_written_alike_is_one_draft() -> None:
    drafts = drafts_of(FakeFarm().lines, NOW)
    trims = [draft for draft in drafts if draft.kind.name == "hoof-trim"]
    assert len(trims) == 1 and len(trims[0].animals) == 12


def test_bars_and_family() -> None:
    assert pictures.bars([]) == "" and pictures.bars([2, 2]) == "▅▅"
    assert pictures.bars([1, 4.5, 8]) == "▁▅█"
    loop = herd_line("A", "doe", 9, "Pen", dam="id-a", dam_name="A", sire="id-a", sire_name="A")
    rows = pictures.family(loop, {"id-a": loop})
    assert len(rows) == 2 + 4 + 8 + 16


def test_a_trail_is_told_in_names_and_days() -> None:
    farm = FakeFarm()
    told = trail.page(trail.read(farm), datetime(2026, 3, 14, 9, tzinfo=UTC))  # type: ignore[arg-type]
    assert page_lines(told) == [
        "today 06:12; Jun, barn; amend; hoof trim of Agate; hind left: soft to nicked; good"
    ]
    assert trail.page(trail.read(farm), NOW, narrow=trail.Narrow("jun barn")).rows != []  # type: ignore[arg-type]
    assert trail.page(trail.read(farm), NOW, narrow=trail.Narrow("oda")).rows == []  # type: ignore[arg-type]
    day = "2026-03-14"
    found = [
        (trail.Narrow(keeper="ravi", device="barn", kind="hoof-trim", first=day, last=day), True),
        (trail.Narrow(keeper="jun"), True), (trail.Narrow(last=day[:7]), True),
        (trail.Narrow(keeper="rav"), False), (trail.Narrow(device="house"), False),
        (trail.Narrow(kind="dose"), False), (trail.Narrow(first="2026-03-15"), False),
        (trail.Narrow(last="2026-03-13"), False),
    ]  # fmt: skip
    for narrow, wanted in found:
        page = trail.page(trail.read(farm), NOW, narrow=narrow)  # type: ignore[arg-type]
        assert bool(page.rows) is wanted, narrow


def test_a_trail_names_what_was_given_not_its_id(tmp_path: Path) -> None:
    folder = tmp_path / "farm"
    founded(folder)
    with Farm.open(folder, Wall(MORNING)) as farm:
        farm.record("animal", {"name": "Agate", "sex": "doe"})
        product = {"name": "Quillwort drench", "substance": "quillworts", "milk_h": "96"}
        farm.record("product", product)
        farm.record("dose", {"product": "Quillwort drench", "amount_ml": "9"}, ["Agate"])
        newest = page_lines(trail.page(trail.read(farm), MORNING))[0]
        assert "product Quillwort drench; " in newest
        waiting = page_lines(trail.unvouched_page(trail.unvouched(farm), MORNING))
        assert waiting[0] == "Everything written here is vouched for."


def _luminance(colour: str) -> float:
    """Relative luminance of a colour (W3C, Web Content Accessibility Guidelines 2.1)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize(
    ("look", "least"), [(theme.NIGHT, 4.5), (theme.DAY, 4.5), (theme.CONTRAST, 7.0)]
)
def test_every_tone_is_readable_on_its_ground(look: Theme, least: float) -> None:
    """Contrast at least 4.5 to 1 (WCAG 2.1, 1.4.3), in the contrast look 7 to 1 (1.4.6)."""
    colours = [
        look.variables[one] for one in ("dim", "strong", "closing", "late", "open", "held", "good")
    ]
    for ground in (look.background, look.surface):
        assert ground is not None
        for colour in [*colours, look.primary]:
            light, dark = sorted((_luminance(colour), _luminance(ground)), reverse=True)
            assert (light + 0.05) / (dark + 0.05) >= least, (look.name, colour, ground)


def test_work_for_the_whole_farm_never_asks_whom_it_is_for() -> None:
    line = DueLine(
        "work", "", "Whole farm", "Whole farm", "feed-store", "Look through the feed store",
        "chore-done", "due", "", "", "", "", "last done a month ago", caution="Shut the door.",
        preset={"item": "feed-store"},
    )  # fmt: skip
    draft = draft_of(line, NOW)
    assert draft.animals == [] and draft.missing == [] and not draft.plain
    asked = [name for names in draft.asked() for name in names]
    assert "about" not in asked and "note" in asked


@pytest.mark.parametrize(
    ("text", "again"),
    [
        ("2026-03-28", "2026-03-28"),
        ("2026-03-28T20:52:27+00:00", "2026-03-28 21:52"),
        # The second 02:30 of the night on which clocks go back (tz database): typed so, it is the first.
        ("2026-10-25T02:30:00+01:00", "2026-10-25T02:30:00+01:00"),
        ("spring", "spring"),
    ],
)  # fmt: skip
def test_a_moment_is_told_as_it_would_be_typed(text: str, again: str) -> None:
    assert words.typed_again(text, NOW) == again
