"""Work left undone or put off, with the reason: asked in a short form, for one piece or several."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from herdsync.answers import DueLine
from tui import everywhere, words
from tui.forms.asking import Asked, Asking
from tui.forms.choosing import Choosing, Option
from tui.places.place import Place

if TYPE_CHECKING:
    from herdsync.farm import Farm

Form = Callable[[Sequence[DueLine]], Asking]


def skipping(work: Sequence[DueLine]) -> Asking:
    """The form that leaves work undone."""

    def skip(farm: Farm, told: Asked) -> str:
        for line in work:
            farm.skip(line.id, told["because"], line.animal or line.subject)
        return f"{words.count(len(work), 'piece')} of work skipped. u takes it back."

    questions = (("because", "Why it is not done", ""),)
    return Asking(f"Leave undone: {said(work)}", questions, skip, word="Leave it")


def postponing(work: Sequence[DueLine]) -> Asking:
    """The form that puts work off until a day."""

    def postpone(farm: Farm, told: Asked) -> str:
        for line in work:
            about = line.animal or line.subject
            farm.postpone(line.id, told["until"], told["because"], about)
        until = told["until"]
        return f"{words.count(len(work), 'piece')} of work put off to {until}. u takes it back."

    questions = (("until", "Until (a date, or tomorrow)", "tomorrow"), ("because", "Why", ""))
    return Asking(f"Put off: {said(work)}", questions, postpone, word="Put it off")


async def one_of(place: Place, work: Sequence[DueLine], form: Form) -> None:
    """Choose a piece of work where there are several, then ask for the reason."""
    if not work:
        place.say("No work is left here.", "dim")
        return
    chosen = work[0]
    if len(work) > 1:
        options = [Option(one.id, one.work, one.reason) for one in work]
        found = await place.home.push_screen_wait(Choosing("Which work?", options))
        if found is None:
            return
        chosen = next(one for one in work if one.id == found.id)
    await everywhere.ask(place, form([chosen]))


def said(work: Sequence[DueLine]) -> str:
    """Pieces of work in a few words."""
    first = f"{work[0].work}, {work[0].name or work[0].pen}"
    return first if len(work) == 1 else f"{first} and {len(work) - 1} more"
