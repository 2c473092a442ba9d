"""Keys pressed before the screen they are meant for is there: none is lost, none does a thing twice."""

from __future__ import annotations

import asyncio
import gc
from collections.abc import Callable, Mapping, Sequence
from threading import Event

from textual.widgets import Input

from herdsync import answers
from tests.tui.fake_farm import FakeFarm, id_of
from tests.tui.stage import staged
from tui.forms.choosing import Choosing
from tui.places.animal import RecordPlace


class SlowFarm(FakeFarm):
    """A farm whose disk takes its time: nothing is written, and no name read, before it is let."""

    def __init__(self) -> None:
        super().__init__()
        self.asked, self.let = Event(), Event()

    def record(
        self,
        kind: str,
        pairs: Mapping[str, str],
        animals: Sequence[str] = (),
        salt: bytes | None = None,
    ) -> answers.Recorded:
        self.asked.set()
        self.let.wait(60)
        return super().record(kind, pairs, animals, salt)


async def until(wanted: Callable[[], bool]) -> None:
    async with asyncio.timeout(60):
        while not wanted():
            await asyncio.sleep(0.005)


async def test_a_second_press_while_the_first_is_written_does_the_next_line() -> None:
    farm = SlowFarm()
    async with staged(farm) as stage:
        await stage.pilot.press("d")
        await until(farm.asked.is_set)
        await stage.pilot.press("d")
        farm.let.set()
        await stage.settle()
        assert "Hoof trim: Agate" in stage.text
        await stage.press("enter", "enter")
    assert farm.written == [
        ("chore-done", {"item": "bedding"}, [id_of("Doe barn")]),
        ("hoof-trim", {}, [id_of("Agate")]),
    ]


async def test_what_is_typed_before_a_form_is_there_lands_in_the_form() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        await stage.press("2")
        await stage.pilot.press("w", "4", "2", "ctrl+s")
        await stage.settle()
    assert farm.written == [("weighing", {"weight_kg": "42"}, [id_of("Agate")])]


class SlowToFind(FakeFarm):
    """A farm that takes its time to look a word up."""

    def __init__(self) -> None:
        super().__init__()
        self.let = Event()

    def find(self, text: str) -> list[answers.Found]:
        self.let.wait(60 if text else 0)
        return super().find(text)


async def test_enter_takes_what_was_typed_last_not_what_stood_there_before() -> None:
    farm = SlowToFind()
    async with staged(farm) as stage:
        await stage.press("f")
        await stage.pilot.press(*"opal", "enter")
        farm.let.set()
        await stage.settle()
        assert isinstance(stage.app.screen, RecordPlace)
        assert stage.app.screen.ref == id_of("Opal")


async def test_escape_drops_what_is_held_and_the_wait_is_said() -> None:
    farm = SlowFarm()
    async with staged(farm) as stage:
        await stage.pilot.press("d")
        await until(farm.asked.is_set)
        await stage.pilot.press("d", "d")
        await until(lambda: "Working, 1 s" in stage.text)
        await stage.pilot.press("escape")
        farm.let.set()
        await stage.settle()
        assert "Done: bedding" in stage.text
    assert farm.written == [("chore-done", {"item": "bedding"}, [id_of("Doe barn")])]


async def test_quitting_is_never_held() -> None:
    farm = SlowFarm()
    async with staged(farm) as stage:
        await stage.pilot.press("d")
        await until(farm.asked.is_set)
        await stage.pilot.press("ctrl+q")
        farm.let.set()
        await until(lambda: not stage.app.is_running)


async def test_a_look_up_that_is_overtaken_before_it_began_is_never_half_made() -> None:
    farm, asked = FakeFarm(), []
    found = farm.find

    def find(text: str) -> list[answers.Found]:
        asked.append(text)
        return found(text)

    farm.find = find  # type: ignore[method-assign]
    async with staged(farm) as stage:
        await stage.press("f")
        form = stage.app.screen
        assert isinstance(form, Choosing)
        # Two letters in one turn of the loop: the first look-up is called off before its turn comes.
        for text in ("a", "ag"):
            form.on_input_changed(Input.Changed(form.query_one(Input), text))
        await stage.settle()
        assert asked == ["ag"]
        # A coroutine left behind would warn when it is collected, and the warning is an error.
        gc.collect()


class SlowNames(FakeFarm):
    """A farm that takes its time to tell what a form offers."""

    let = Event()

    def names(self, kind: str) -> list[str]:
        self.let.wait(60)
        return super().names(kind)


async def test_what_is_waited_for_is_said_no_longer_once_a_form_waits_for_the_keeper() -> None:
    farm = SlowNames()
    async with staged(farm) as stage:
        await stage.press("2")
        await stage.pilot.press("w")
        await until(lambda: "Working, 1 s" in stage.text)
        farm.let.set()
        await stage.settle()
        assert "Weighing: Agate" in stage.text
        assert "Working" not in await stage.press("escape")
        place = stage.app.screen
        await stage.press("r")
        place._say_waiting()  # type: ignore[attr-defined]
        assert "Write down what?" in stage.text and "Working" not in await stage.press()
