"""What every place has in common: it reads the farm off the loop, shows a page, and takes deeds.

A place turns keys of the table of deeds into ``do_...`` methods; those that many places offer are
in `deeds_everywhere`. It never touches the farm but through the farmhand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar, cast

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Container
from textual.screen import Screen
from textual.worker import Worker, WorkerCancelled, WorkerFailed

from herdsync.answers import Timer
from herdsync.deeds import PLACES, Deed, deed, deeds_of
from tui.drafts import Draft
from tui.farmhand import Trouble, outcome
from tui.keymap import as_moved, way_to
from tui.pages.page import Fact, Page, Row
from tui.widgets.frame import Aside, Clocks, Foot, Head, Spoken, key_name
from tui.widgets.lines import Lines
from tui.working import Work, work_on

if TYPE_CHECKING:
    from herdsync.farm import Farm
    from tui.app import Dashboard

T = TypeVar("T")
ROOMY_COLUMNS = 120
LOOKS_COUNTED = "_css_update_count"
# A turn is no longer, but for a laptop that slept meanwhile.
TURN = timedelta(seconds=60)


@dataclass(frozen=True)
class Standing:
    """What the frame around every place shows."""

    farm: str
    keeper: str
    device: str
    read_only: str
    timers: list[Timer]
    conflicts: int
    mark: object
    at: datetime


def standing(farm: Farm, turn: int, now: datetime, before: Standing | None) -> Standing:
    """What the frame shows, read from the farm; as before within a turn while nothing was written.

    To work out every clock of a large herd takes longer than most places: whoever goes from one to
    the next does not wait for it each time.
    """
    mark = (turn, farm.mark())
    if before is not None and before.mark == mark and now - before.at < TURN:
        return before
    return Standing(
        farm.name,
        farm.keeper,
        farm.device_name,
        farm.read_only,
        farm.timers(),
        len(farm.conflicts()),
        mark,
        now,
    )


def styled_as_mounted(screen: object, app: object) -> None:
    """Let Textual know that a new screen has the look of the moment.

    It takes the screen of a mode for one kept from before a change of the look, and reads every style
    sheet twice more when it is first opened: nearly half of what that costs. It offers no way to say
    so, hence its own count; a version without that count only opens places more slowly.
    """
    count = getattr(app, LOOKS_COUNTED, None)
    if count is not None and hasattr(screen, LOOKS_COUNTED):
        setattr(screen, LOOKS_COUNTED, count)


def bindings(place: str) -> list[BindingType]:
    """The keys of a place, from the table of deeds; each can be moved by its id."""
    return [
        Binding(",".join(one.keys), f"deed('{one.id}')", one.word, show=False,
                id=f"{place}.{one.id}", tooltip=one.help)
        for one in deeds_of(place)
        if one.keys and one.id != "open"
    ]  # fmt: skip


class Place(Screen[None]):
    """One place of work: head, clocks, lines with what is known of one of them, foot."""

    place: ClassVar[str]
    offering: ClassVar[str] = ""  # whose deeds it offers, where these are not the place's own
    foot: ClassVar[tuple[str, ...]] = ()
    about: ClassVar[str] = ""  # what its help says of it, where it is none of the eight
    told: Any = None
    _stale = False
    _reading: Worker[None] | None = None
    _waited_s = 0
    _waiting = ""  # what was said last of something that takes long

    def __init__(self) -> None:
        super().__init__()
        self.facts: Mapping[str, list[Fact]] = {}
        styled_as_mounted(self, self.app)

    def compose(self) -> ComposeResult:
        """The frame, with the body of the place in it."""
        moved = self.home.keymap
        yield Head(self.home.current_mode, {one.id: key_name(way_to(one, moved)) for one in PLACES})
        yield Clocks(lambda: self.home.now())
        with Container(id="body"):
            yield from self.body()
        yield Spoken(id="spoken")
        yield Foot(self.deeds_here(self.foot), self.deeds_here(("help",))[0])

    def body(self) -> ComposeResult:
        """What stands between clocks and foot."""
        yield Lines(id="lines")
        yield Aside(id="aside")

    def deeds_here(self, ids: Sequence[str]) -> list[Deed]:
        """Deeds with the keys they have here for this keeper."""
        return [as_moved(self.offers, deed(id), self.home.keymap) for id in ids]

    @property
    def offers(self) -> str:
        """The place of the table of deeds whose keys count here."""
        return self.offering or self.place

    def offered(self) -> list[Deed]:
        """What can be done here, with its keys: what another screen of the place does is left out."""
        told = [one for one in deeds_of(self.offers) if one.keys and self._does(one.id)]
        return self.deeds_here([one.id for one in told])

    def _does(self, id: str) -> bool:
        return hasattr(self, f"do_{id.replace('-', '_')}") or self.home.does_everywhere(id)

    # What a place fills in.

    def read(self, farm: Farm) -> Any:
        """What the place needs of the farm; runs on the farm's thread."""
        raise AssertionError(f"{self.place} reads nothing of {farm}")

    def page(self, told: Any) -> Page:
        """The page of lines for what was read."""
        raise AssertionError(f"{self.place} shows nothing of {told}")

    def opened(self, row: Row) -> None:
        """What enter on a line does: the page of its animal, else of its record."""
        if row.animal:
            self.home.open_record(row.animal)
        elif row.record:
            self.home.open_record(row.record)

    # Reading and showing.

    @property
    def home(self) -> Dashboard:
        """The app."""
        return cast("Dashboard", self.app)

    @property
    def lines(self) -> Lines:
        """The list of the place."""
        return self.query_one("#lines", Lines)

    def on_mount(self) -> None:
        """Start with the cursor in the list."""
        for widget in self.query("#lines"):
            widget.focus()

    def on_screen_resume(self) -> None:
        """Whoever comes back sees the farm as it is."""
        self.reload()

    def reload(self) -> None:
        """Read the farm anew and show it; asked while reading, it reads once more afterwards."""
        self._stale = True
        if self._reading is None or self._reading.is_finished:
            self._reading = work_on(self, self._read_all, "reading")

    async def _read_all(self) -> None:
        while self._stale:
            self._stale = False
            await self._reload()

    async def _reload(self) -> None:
        try:
            self.told, frame = await self.home.hand.ask(self._look)
            self.show(self.told)
            if isinstance(frame, Trouble):
                raise frame
            self._frame(frame)
        except Trouble as trouble:
            self.say(str(trouble), "late")

    def _look(self, farm: Farm) -> tuple[Any, Standing | Trouble]:
        """What the place and the frame around it tell, of one look; on the farm's thread."""
        with farm.one_look():
            # What fails for the frame leaves the place itself readable.
            told = self.read(farm)
            return told, outcome(lambda: self.stands(farm))

    def stands(self, farm: Farm) -> Standing:
        """What the frame shows, every clock among it; on the farm's thread."""
        home = self.home
        return standing(farm, home.turn, home.now(), home.frame)

    def show(self, told: Any) -> None:
        """Show what was read: by default as a page of lines."""
        page = self.page(told)
        self.facts = page.facts
        self.lines.fill(page)

    def _frame(self, frame: Standing) -> None:
        self.home.frame = frame
        who = f"{self.home.by or frame.keeper} at {frame.device}"
        if frame.read_only:
            who += " · reading only"
        self.query_one(Head).tell(frame.farm, who, frame.conflicts, self.home.now())
        self.query_one(Clocks).tell(frame.timers)

    def on_lines_moved(self, event: Lines.Moved) -> None:
        """Tell what is known of the line the cursor is on."""
        self.tell_aside(event.row)

    def tell_aside(self, row: Row | None) -> None:
        """Show the facts of a line."""
        facts = self.facts.get(row.key, []) if row is not None else []
        for aside in self.query("#aside").results(Aside):
            aside.tell(facts, roomy=self.app.size.width >= ROOMY_COLUMNS)

    def on_resize(self) -> None:
        """Facts are laid out by the room there is."""
        for lines in self.query("#lines").results(Lines):
            self.tell_aside(lines.current)

    def on_lines_opened(self, event: Lines.Opened) -> None:
        """Enter on a line."""
        self.opened(event.row)

    # Saying and doing.

    def say(self, said: str, tone: str = "good") -> None:
        """Say one sentence under the list."""
        self.query_one(Spoken).tell(said, tone)

    def start(self, work: Work) -> None:
        """Run something that writes or asks; what fails is said, never thrown at the keeper.

        Keys pressed meanwhile wait until it asks something, or until its outcome is shown.
        """
        deed = work_on(self, partial(self._told, work), "doing")
        self.home.typed_ahead.wait_for(deed)

    async def _told(self, work: Work) -> None:
        self._waited_s, self._waiting = 0, ""
        waiting = self.set_interval(1, self._say_waiting)
        try:
            await work()
        except Trouble as trouble:
            self.say(str(trouble), "late")
        finally:
            waiting.stop()
            self._waits_no_more()
        if self._reading is not None:
            with suppress(WorkerFailed, WorkerCancelled):
                await self._reading.wait()

    def _say_waiting(self) -> None:
        """Whatever takes over a second says so; where a form stands over the place, it waits for keys."""
        if self.is_active:
            self._waited_s += 1
            self._waiting = f"Working, {self._waited_s} s. Keys wait for it; esc drops them."
            self.say(self._waiting, "dim")
        else:
            self._waits_no_more()

    def _waits_no_more(self) -> None:
        if self._waiting and self.query_one(Spoken).said == self._waiting:
            self.say("")

    def action_deed(self, id: str) -> None:
        """Do a deed of the table here."""
        self.say("")
        doing = getattr(self, "do_" + id.replace("-", "_"), None)
        if doing is None:
            self.home.do_everywhere(self, id)
        else:
            doing()

    def animals(self) -> list[tuple[str, str]]:
        """Ids and names of the animals a deed is for: those selected, else the one under the cursor."""
        found: dict[str, str] = {}
        for row in self.selected():
            if row.animal:
                found.setdefault(row.animal, row.name)
        return list(found.items())

    def selected(self) -> Sequence[Row]:
        """The lines a deed is for."""
        return self.lines.selected

    def done_with(self, draft: Draft) -> None:
        """A draft was written: what was selected for it is selected no longer."""
        del draft
        for lines in self.query("#lines").results(Lines):
            lines.drop_choice()

    # Deeds that any list offers.

    def do_select(self) -> None:
        """Select or drop the line under the cursor."""
        self.lines.toggle()

    def do_select_pen(self) -> None:
        """Select every line of the pen under the cursor."""
        row = self.lines.current
        if row is not None:
            here = {one.key for one in self.lines.rows if one.pen == row.pen and not one.heading}
            self.lines.choose(here)
            self.say(f"{len(self.lines.chosen)} selected.", "dim")

    def do_back(self) -> None:
        """Drop the selection, else go back to where the keeper came from."""
        dropped = any(lines.drop_choice() for lines in self.query("#lines").results(Lines))
        if not dropped and len(self.app.screen_stack) > 1:
            self.dismiss()
