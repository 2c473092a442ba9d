"""First morning: no farm is here yet. Found one, join a partner's, or bring one back from a backup."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, cast

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import Screen
from textual.widgets import Static

from herdsync.meetings import Joining
from tui.everywhere import carrier_path
from tui.farmhand import Trouble
from tui.forms.beginning import Beginning, numbered, reading_back, recovering
from tui.forms.telling import Telling
from tui.pages.page import Cell, Column, Page, Row
from tui.text import content
from tui.widgets.lines import Lines
from tui.working import work_on

if TYPE_CHECKING:
    from tui.app import Dashboard

COLUMNS = (Column("", 23), Column("", 30, grow=1))
WELCOME = "Good morning. There is no farm in this folder yet."
WAYS = (
    ("found", "Found a farm", "The first laptop of the herd; two minutes."),
    ("join", "Join a partner's farm", "By folder, stick, depot or network; shows a code."),
    ("come", "The partner let me in", "Take the farm from there after that."),
    ("restore", "Bring a backup back", "Opens to read; Partners (8) then tells how to write."),
    ("recover", "Begin again", "With the words, where the steward's laptop is lost."),
    ("quit", "Leave", "Try it first with an invented farm: herdsync demo"),
)
# A damaged farm is mended or left alone: nothing is founded over it.
MENDS = (
    ("refold", "Fold it again", "Works everything out anew from the signed log, which stays."),
    ("quit", "Leave", "Then restore a backup into another folder: herdsync restore"),
)
FOUNDING = (
    "Enter goes from line to line; below stands what each line wants. Everything but the name of the "
    "farm, yours and the laptop's can be changed later."
)
PAPER = (
    "Write these 24 words on paper, in order, and keep the paper away from the laptop. They bring "
    "the farm back when a laptop is lost or stolen. They are shown this once and stored nowhere."
)


class FirstMorning(Screen[None]):
    """The ways to a farm."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("q,escape", "quit_all", show=False)]

    def compose(self) -> ComposeResult:
        """A greeting over the ways."""
        yield Static(content(f"\n  {WELCOME}\n"), id="welcome")
        yield Lines(id="ways")
        yield Static("", id="wrong")
        yield Static(content(" up and down, enter chooses, q leaves"), id="keys")

    def on_mount(self) -> None:
        """The ways."""
        self._offer(WAYS)
        self.query_one(Lines).focus()

    def _offer(self, ways: tuple[tuple[str, str, str], ...]) -> None:
        rows = [
            Row(id, (Cell(name, "strong"), Cell(said, "dim")), name=name) for id, name, said in ways
        ]
        self.query_one(Lines).fill(Page(COLUMNS, rows, ""))

    @property
    def home(self) -> Dashboard:
        """The app."""
        return cast("Dashboard", self.app)

    def damaged(self, said: str) -> None:
        """The farm here cannot be opened: say so, with the way on."""
        self.query_one("#welcome", Static).update(
            content("\n  The farm in this folder did not open.\n")
        )
        self.wrong(said)
        self._offer(MENDS)

    def wrong(self, said: str) -> None:
        """Say what went wrong."""
        self.query_one("#wrong", Static).update(content(f" ! {said}"))

    def action_quit_all(self) -> None:
        """Leave."""
        self.app.exit(0)

    def on_lines_opened(self, event: Lines.Opened) -> None:
        """Take the way chosen."""
        if event.row.key == "quit":
            self.app.exit(0)
        else:
            take = partial(self._take, event.row.key)
            way = work_on(self, take, "way", alone=True, fatal=True)
            self.home.typed_ahead.wait_for(way)

    async def _take(self, way: str) -> None:
        flow = {
            "found": self._found,
            "join": self._join,
            "come": self._come,
            "restore": self._restore,
            "recover": self._recover,
            "refold": self._refold,
        }
        try:
            await flow[way]()
        except Trouble as trouble:
            self.wrong(str(trouble))

    async def _found(self) -> None:
        from herdsync import founding

        words: list[str] = []

        def found(told: dict[str, str]) -> str:
            done = founding.found(
                self.home.folder, self.home.wall, name=told["name"], keeper=told["keeper"],
                device=told["device"], prefix=told["prefix"], zone=told["zone"] or "UTC",
                letters=told["letters"] or "dairy",
            )  # fmt: skip
            words.extend(done.recovery.split())
            return "founded"

        questions = (
            ("name", "Farm", ""), ("keeper", "You", ""), ("device", "This laptop", ""),
            ("prefix", "Herd prefix", ""), ("zone", "Time zone", "UTC"), ("letters", "Year letters", "dairy"),
        )  # fmt: skip
        form = Beginning("Found a farm", questions, "Found it", found, about=FOUNDING)
        if await self.app.push_screen_wait(form):
            await self._words_on_paper(words)
            await self.home.farm_came()

    async def _words_on_paper(self, words: Sequence[str]) -> None:
        """Show the words until three of them were read back right off the paper."""
        told = f"{PAPER}\n\n{numbered(list(words))}"
        while True:
            await self.app.push_screen_wait(
                Telling("The recovery words", told, word="They are on paper")
            )
            if await self.app.push_screen_wait(reading_back(words, self.home.wall)):
                return

    async def _join(self) -> None:
        from herdsync import founding

        asked: list[Joining] = []

        def join(told: dict[str, str]) -> str:
            self.home.carrier = told["carrier"]
            done = founding.join(
                self.home.folder, self.home.wall, carrier_path(told["carrier"]),
                keeper=told["keeper"], device=told["device"],
            )  # fmt: skip
            asked.append(done)
            return "asked"

        questions = (
            ("carrier", "Through", self.home.carrier), ("keeper", "You", ""),
            ("device", "This laptop", ""),
        )  # fmt: skip
        if await self.app.push_screen_wait(
            Beginning("Join a farm", questions, "Ask to join", join)
        ):
            await self.app.push_screen_wait(
                Telling("You asked to join", told_asked(asked[-1]), word="Done")
            )

    async def _come(self) -> None:
        from herdsync import founding

        def come(told: dict[str, str]) -> str:
            carrier = carrier_path(told["carrier"])
            if founding.exchange_joining(self.home.folder, self.home.wall, carrier) is None:
                raise Trouble("This laptop has not asked to join yet. Choose 'Join' first.")
            return "came"

        questions = (("carrier", "Through", self.home.carrier),)
        if await self.app.push_screen_wait(Beginning("Take the farm", questions, "Take it", come)):
            await self.home.farm_came()

    async def _refold(self) -> None:
        await self.home.hand.ask(lambda farm: farm.refold())
        await self.home.farm_came()

    async def _recover(self) -> None:
        said = await self.app.push_screen_wait(recovering(self.home))
        if said is not None:
            await self.app.push_screen_wait(Telling("The farm is here again", said, word="Go on"))
            await self.home.farm_came()

    async def _restore(self) -> None:
        from herdsync import founding

        def restore(told: dict[str, str]) -> str:
            return founding.restore(Path(told["file"]).expanduser(), self.home.folder).file

        questions = (("file", "Backup file", ""),)
        if await self.app.push_screen_wait(
            Beginning("Bring a backup back", questions, "Restore", restore)
        ):
            await self.home.farm_came()


def told_asked(joining: Joining) -> str:
    """The code to read out; over a network the digits that both screens must show."""
    if not joining.check:
        return (
            f"Read this code out to your partner:\n\n    {joining.code}\n\nThere they open Partners "
            "(8), press j and type it. Bring the stick back, then choose 'The partner let me in'."
        )
    return (
        f"Read the code and the digits out to your partner:\n\n    Code    {joining.code}\n"
        f"    Digits  {joining.check}\n\nTheir screen shows this laptop's name with the same six digits. "
        "Other digits: somebody stands between the two laptops, let nobody in. The same: they open "
        "Partners (8), press j and type both, with nothing in the line Through. Then choose 'The "
        "partner let me in'."
    )
