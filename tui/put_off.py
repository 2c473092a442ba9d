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
        if len(work) == 1:
            farm.skip(work[0].id, told["because"], work[0].animal or work[0].subject)
        else:
            farm.record_each("skip", [_telling(line, told) for line in work])
        return f"{words.count(len(work), 'piece')} of work skipped. u takes it back."

    questions = (("because", "Why it is not done", ""),)
    return Asking(f"Leave undone: {said(work)}", questions, skip, word="Leave it")


def postponing(work: Sequence[DueLine]) -> Asking:
    """The form that puts work off until a day."""

    def postpone(farm: Farm, told: Asked) -> str:
        if len(work) == 1:
            about = work[0].animal or work[0].subject
            farm.postpone(work[0].id, told["until"], told["because"], about)
        else:
            farm.record_each("postpone", [_telling(line, told) for line in work])
        until = told["until"]
        return f"{words.count(len(work), 'piece')} of work put off to {until}. u takes it back."

    questions = (("until", "Until (a date, or tomorrow)", "tomorrow"), ("because", "Why", ""))
    return Asking(f"Put off: {said(work)}", questions, postpone, word="Put it off")


def _telling(line: DueLine, told: Asked) -> dict[str, str]:
    """One of several, all written in one batch: what is said of all is taken back of all."""
    about = line.animal or line.subject
    return {"work": line.id} | told | ({"about": about} if about else {})


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
