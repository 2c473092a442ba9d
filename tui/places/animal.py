"""The page of one animal or record: reached with enter, left with escape."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from herdsync.answers import DueLine, RecordAnswer
from herdsync.deeds import ANIMAL
from tui import put_off
from tui.forms.amending import Amending
from tui.forms.asking import Asked, Asking
from tui.forms.papering import print_papers
from tui.pages import animal, boards, drawn
from tui.pages.page import Page, Row
from tui.places.boards import BoardPlace
from tui.places.drawn import DrawnPlace
from tui.places.place import Place, bindings

if TYPE_CHECKING:
    from herdsync.farm import Farm


class RecordPlace(Place):
    """One record whole; of an animal also its work, holds, clocks and acts."""

    place = ANIMAL
    foot = ("back", "done", "record", "amend", "retract", "weigh", "give", "note", "picture")
    BINDINGS = bindings(ANIMAL)

    def __init__(self, ref: str) -> None:
        super().__init__()
        self.ref = ref

    def read(self, farm: Farm) -> animal.Whole:
        """The record."""
        return animal.read(farm, self.ref)

    def page(self, told: animal.Whole) -> Page:
        """Its lines."""
        return animal.page(told, self.home.now())

    @property
    def record(self) -> RecordAnswer | None:
        """The record as read."""
        return self.told.record if self.told is not None else None

    def animals(self) -> list[tuple[str, str]]:
        """This animal."""
        told = self.record
        return [(told.id, told.title)] if told is not None and told.animal is not None else []

    def opened(self, row: Row) -> None:
        """The record a line is about, where it is another than this one."""
        told = self.record
        if told is not None and row.record and row.record != told.id:
            self.home.open_record(row.record)
        elif row.key.startswith("field "):
            self.do_amend()

    def do_papers(self) -> None:
        """Papers for this animal, to sell, register or show the vet."""
        self.start(partial(print_papers, self, self.animals()))

    def do_marks(self) -> None:
        """The next mark, and the marks of this animal."""
        if self.animals():
            self.app.push_screen(BoardPlace(lambda farm: boards.marks(farm, self.ref)))

    def do_picture(self) -> None:
        """Growth, milk, scurs and family, drawn."""
        if self.animals():
            self.app.push_screen(DrawnPlace(lambda farm: drawn.of_animal(farm, self.ref)))

    def work(self) -> list[DueLine]:
        """The due work under the cursor; says so where there is none."""
        row = self.lines.current
        due = self.record.due if self.record is not None else []
        found = [line for line in due if row is not None and line.id == row.key]
        if not found:
            self.say("Put the cursor on a line of work under 'Due' first.", "dim")
        return found

    def do_done(self) -> None:
        """Write down the due work under the cursor."""
        work = self.work()
        if work:
            self.home.do_work(self, work)

    def do_skip(self) -> None:
        """Leave the work under the cursor undone, with a reason."""
        work = self.work()
        if work:
            self.home.ask(self, put_off.skipping(work))

    def do_postpone(self) -> None:
        """Put the work under the cursor off until a day, with a reason."""
        work = self.work()
        if work:
            self.home.ask(self, put_off.postponing(work))

    def record_here(self) -> str:
        """The record a change is for: the act under the cursor, else this one."""
        row = self.lines.current
        if row is not None and row.record and row.key in (row.record, f"of {row.record}"):
            return row.record
        return self.ref

    def do_amend(self) -> None:
        """Change fields of the record."""
        self.start(partial(self._amend, self.record_here()))

    async def _amend(self, ref: str) -> None:
        told = await self.home.hand.ask(lambda farm: farm.show(ref))
        names = await self.home.hand.ask(self.home.names_in)
        said = await self.home.push_screen_wait(Amending(told, names))
        if said is not None:
            self.reload()
            self.say(said)

    def do_retract(self) -> None:
        """Take the record back, with the reason."""
        ref = self.record_here()

        def retract(farm: Farm, told: Asked) -> str:
            farm.retract(ref, told["because"])
            return "Taken back; it stays in the trail. u brings it again."

        row = self.lines.current
        act = ref != self.ref
        told = self.record
        what = row.name if act and row is not None else whole(told) if told is not None else ""
        self.home.ask(self, Asking(f"Take back: {what}", (("because", "Why", ""),), retract))


def whole(record: RecordAnswer) -> str:
    """What a record is called, saying of an animal that all of it is meant, not a line of its page."""
    return f"{record.title}, the whole animal" if record.kind == "animal" else record.title
