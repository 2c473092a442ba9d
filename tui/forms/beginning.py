"""Forms whose deed needs no open farm: founding, joining, restoring, beginning again with the words."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING

from textual.widget import Widget

from herdsync.answers import Recovered
from herdsync.wall import Wall
from tui import words
from tui.everywhere import carrier_path
from tui.farmhand import Trouble
from tui.forms.asking import Question
from tui.forms.entry import Entry
from tui.forms.sheet import Sheet

if TYPE_CHECKING:
    from tui.app import Dashboard

READ_BACK = 3
HINTS = {
    "name": "What the farm is called, such as the name on your papers.",
    "keeper": "Your own name, as your partner knows you.",
    "device": "A name for this laptop: house, barn, van.",
    "prefix": "Your herd prefix, tattooed in the right ear; leave it blank if there is none.",
    "zone": "The time zone of the farm, such as Europe/Berlin or America/Chicago.",
    "letters": "Tattoo year letters: dairy, meat, or none.",
    "carrier": "A folder or stick both laptops reach: /media/stick. A laptop that listens: "
    "192.168.1.20:47100. A depot: sftp://you@host/herd, s3://bucket/herd.",
    "kept": "A folder, stick or depot the farm was exchanged over: /media/stick, sftp://you@host/herd.",
    "file": "The backup file.",
    "words": "The 24 words off the sheet, in order, parted by spaces. They are kept nowhere here.",
    "word": "As it stands on the paper, not from memory. esc shows the words once more.",
    "remove": "Laptops that were lost or stolen, parted by commas; blank for none.",
}
BEGIN_AGAIN = (
    "Only for a farm whose steward's laptop is lost, or a copy that opens to read. This laptop is let "
    "in afresh and becomes the steward; the laptops you name are put out for good."
)


NEEDED = frozenset({"name", "keeper", "device", "carrier", "kept", "file", "words"})
# How founding and joining name the line they refuse: "The keeper's name is missing or unfit."
NAMED = {"farm": "name", "keeper": "keeper", "device": "device"}
NAME_REFUSED = re.compile(r"^The (farm|keeper|device)'s name ")


class Beginning(Sheet):
    """A form whose deed needs no farm yet."""

    def __init__(
        self,
        title: str,
        questions: tuple[Question, ...],
        word: str,
        deed: Callable[[dict[str, str]], str],
        caution: str = "",
        about: str = "",
    ) -> None:
        super().__init__()
        self.about = about
        self.title_text = title
        self.write_word = word
        self.caution = caution
        # What was typed waits for whoever looks elsewhere first; recovery words are kept nowhere.
        self.keeps = not any(name.startswith("word") for name, _, _ in questions)
        self._questions = questions
        self._deed = deed

    def lines(self) -> Iterable[Widget]:
        """One line a question."""
        for name, label, first in self._questions:
            hint = HINTS.get(name.split(" ")[0], "")
            yield Entry(name, label, value=first, hint=hint, needed=name in NEEDED)

    def line_of(self, said: str) -> Entry | None:
        """The line of a name that is refused, or of what the refusal quotes."""
        found = NAME_REFUSED.match(said)
        name = NAMED[found[1]] if found else ""
        quoted = (one for one in self.entries if one.text and said.startswith(f"'{one.text}' "))
        return next((one for one in self.entries if one.field == name), next(quoted, None))

    async def write(self) -> str:
        """Do it."""
        told = {name: "" for name, _, _ in self._questions} | self.given()
        return await self.home.hand.do(lambda: self._deed(told))


def reading_back(recovery: Sequence[str], wall: Wall) -> Beginning:
    """The form that asks three of the recovery words, read off the paper they were just written on."""
    places = chosen_places(len(recovery), wall.entropy(READ_BACK))

    def compare(told: dict[str, str]) -> str:
        for place in places:
            typed = told[f"word {place}"].casefold()
            if typed != recovery[place - 1]:
                raise Trouble(
                    f"Word {place} was not '{typed}'. Look at the paper again; esc shows the words."
                )
        return "right"

    questions = tuple((f"word {place}", f"Word {place}", "") for place in places)
    return Beginning(
        "Read three words back", questions, "Compare", compare,
        about="From the paper, so that a slip of the pen is found today and not on the day you need it.",
    )  # fmt: skip


def chosen_places(count: int, entropy: bytes) -> list[int]:
    """As many different places, counted from 1, as there are bytes of entropy; in order."""
    left = list(range(1, count + 1))
    return sorted(left.pop(byte % len(left)) for byte in entropy)


def recovering(home: Dashboard, keeper: str = "", device: str = "") -> Beginning:
    """The form that begins again with the recovery words."""
    from herdsync import founding

    def recover(told: dict[str, str]) -> str:
        done = founding.recover(
            home.folder, home.wall, told["words"], carrier_path(told["kept"]),
            keeper=told["keeper"], device=told["device"],
            remove=[one.strip() for one in told["remove"].split(",") if one.strip()],
        )  # fmt: skip
        home.carrier = told["kept"]
        return recovered(done)

    questions = (
        ("kept", "Through", home.carrier), ("keeper", "You", keeper),
        ("device", "This laptop", device), ("remove", "Put out", ""),
        ("words", "Recovery words", ""),
    )  # fmt: skip
    return Beginning(
        "Begin again with the recovery words", questions, "Begin again", recover, BEGIN_AGAIN
    )


def recovered(told: Recovered) -> str:
    """What beginning again came to."""
    out = f" Put out: {', '.join(told.removed)}." if told.removed else ""
    return (
        f"This laptop is the steward now; {words.count(told.received, 'entry', 'entries')} came with "
        f"the exchange.{out} Put the sheet back where it is safe."
    )


def numbered(told: list[str]) -> str:
    """Words in rows of four, numbered."""
    cells = [f"{place:>2} {word:<10}" for place, word in enumerate(told, 1)]
    return "\n".join("  ".join(cells[start : start + 4]) for start in range(0, len(cells), 4))
