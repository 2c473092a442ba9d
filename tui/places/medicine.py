"""Medicine: what is held, what to look at, courses, what is to be given, what is on the shelf."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from herdsync.kinds import CATALOGUE
from herdsync.reports import CourseLine
from tui.drafts import Draft
from tui.everywhere import names_in, write_down
from tui.forms.volume import Volume
from tui.pages import boards, medicine
from tui.pages.page import Page, Row
from tui.places.boards import BoardPlace
from tui.places.place import Place, bindings

if TYPE_CHECKING:
    from herdsync.farm import Farm


class MedicinePlace(Place):
    """Holds, looks, courses, doses, products."""

    place = "medicine"
    foot = ("give", "record", "dose", "clocks", "look", "open", "eggs", "screening", "undo")
    BINDINGS = bindings("medicine")

    def read(self, farm: Farm) -> medicine.Medicine:
        """Everything that bears on medicine."""
        return medicine.read(farm, self.stands(farm).timers)

    def page(self, told: medicine.Medicine) -> Page:
        """One page of all of them."""
        return medicine.page(told, self.home.now())

    def opened(self, row: Row) -> None:
        """A dose that may stand twice is resolved in Conflicts; else the record of the line."""
        if row.key.startswith("twice "):
            self.home.action_go("conflicts")
        else:
            super().opened(row)

    def do_eggs(self) -> None:
        """Worm scores and counts."""
        self.app.push_screen(BoardPlace(boards.worms))

    def do_screening(self) -> None:
        """Disease tests."""
        self.app.push_screen(BoardPlace(boards.tests))

    def do_give(self) -> None:
        """The next dose of the course under the cursor; the work, of due work; else any medicine."""
        row = self.lines.current
        told: medicine.Medicine | None = self.told
        courses = told.board.courses if told is not None else []
        due = told.due if told is not None else []
        course = [one for one in courses if row is not None and medicine.course_key(one) == row.key]
        work = [one for one in due if row is not None and one.id == row.key]
        if course:
            self.start(partial(write_down, self, next_dose(course[0])))
        elif work:
            self.home.do_work(self, work)
        elif row is not None and row.key.startswith("product "):
            pairs = {"product": row.name}
            self.start(partial(write_down, self, Draft(CATALOGUE["dose"], pairs, self.animals())))
        else:
            self.home.do_everywhere(self, "give")

    def do_dose(self) -> None:
        """Work a volume out from typed figures; nothing is prescribed."""
        self.start(self._dose)

    async def _dose(self) -> None:
        row = self.lines.current
        animals = self.animals()
        product = row.name if row is not None and row.key.startswith("product ") else ""
        names = await self.home.hand.ask(names_in)
        form = Volume(names, animals[0][1] if animals else "", product)
        if await self.home.push_screen_wait(form) is not None and form.whom is not None:
            whom = (form.whom.id, form.whom.name)
            await write_down(self, Draft(CATALOGUE["dose"], form.pairs, [whom], "", "Dose"))


def next_dose(line: CourseLine) -> Draft:
    """The next dose of a course, about to be written down."""
    pairs = {"product": line.product_name} if line.product_name else {}
    if line.course:
        pairs["course"] = line.course
    of = f" of {line.doses}" if line.doses else ""
    title = f"Dose {line.number}{of}, {line.product_name}"
    return Draft(CATALOGUE["dose"], pairs, [(line.animal, line.name)], "", title)
