"""The dashboard itself: one app, one screen a place, and the one thread that owns the farm.

Screens ask the farm through here; what they do for every place is in `everywhere`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar
from zoneinfo import ZoneInfo

from textual import events
from textual.app import App
from textual.binding import Binding, BindingType
from textual.command import Provider
from textual.screen import Screen
from textual.worker import Worker, WorkerState

from herdsync.answers import DueLine
from herdsync.deeds import PLACES, deed
from herdsync.desk import Desk
from herdsync.wall import Wall
from tui import everywhere, theme
from tui.drawer import Drawer
from tui.farmhand import Farmhand, Trouble
from tui.forms.asking import Asking
from tui.keymap import moved_keys
from tui.palette import DeedCommands
from tui.places.animal import RecordPlace
from tui.places.clocks import ClocksPlace
from tui.places.conflicts import ConflictsPlace
from tui.places.first_morning import FirstMorning
from tui.places.herd import HerdPlace
from tui.places.keys import KeysPage
from tui.places.kidding import KiddingPlace
from tui.places.medicine import MedicinePlace
from tui.places.milk import MilkPlace
from tui.places.partners import PartnersPlace
from tui.places.place import Place, Standing
from tui.places.rounds import RoundsPlace
from tui.places.trail import TrailPlace
from tui.typed_ahead import TypedAhead
from tui.watching import LOOKS_S, Watching
from tui.working import work_on

if TYPE_CHECKING:
    from herdsync.farm import Farm

POLL_S = 1.0
REFRESH_S = 60.0
HOME = "rounds"
FIRST = "first"
OWN_DEEDS = frozenset({"quit", "theme", "help", "clocks", "open"})


class Dashboard(App[int]):
    """Thin: it holds the farmhand, the clock and who is at the keyboard, and goes from place to place."""

    CSS_PATH = "app.tcss"
    TITLE = "herdsync"
    MODES: ClassVar[dict[str, str | Callable[[], Screen[Any]]]] = {
        "rounds": RoundsPlace,
        "herd": HerdPlace,
        "kidding": KiddingPlace,
        "medicine": MedicinePlace,
        "milk": MilkPlace,
        "conflicts": ConflictsPlace,
        "trail": TrailPlace,
        "partners": PartnersPlace,
        FIRST: FirstMorning,
    }
    COMMANDS: ClassVar[set[type[Provider] | Callable[[], type[Provider]]]] = {DeedCommands}
    # Textual declares these two in a way that forbids marking them as the class's own.
    HORIZONTAL_BREAKPOINTS = [(0, "-small"), (80, "-normal"), (120, "-wide")]  # noqa: RUF012
    VERTICAL_BREAKPOINTS = [(0, "-low"), (30, "-tall")]  # noqa: RUF012
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(place.key, f"go('{place.id}')", place.word, show=False, id=f"go.{place.id}")
        for place in PLACES
    ]

    def __init__(
        self, hand: Farmhand, wall: Wall, folder: Path, by: str = "", desk: Desk | None = None
    ) -> None:
        super().__init__()
        self.hand = hand
        self.wall = wall
        self.folder = folder
        self.by = by
        self.desk = desk or Desk()
        self.keymap, self.key_faults = moved_keys(self.desk)
        self.watching = Watching(self)
        self.typed_ahead = TypedAhead(self)
        self.drawer = Drawer()
        self.frame: Standing | None = None
        self.turn = 0  # how often everything was to be read anew
        self._looking = False
        self.zone = ZoneInfo("UTC")
        self.names_in = everywhere.names_in
        for one in theme.THEMES:
            self.register_theme(one)
        self.theme = theme.known(self.desk.look)
        self.set_keymap(self.keymap)

    @property
    def carrier(self) -> str:
        """The folder, stick or address last exchanged through, as it was typed."""
        return self.desk.carrier(self.folder)

    @carrier.setter
    def carrier(self, carrier: str) -> None:
        self.desk.use_carrier(self.folder, carrier)

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Our own tones, for looks that do not name them."""
        return theme.NIGHT.variables

    async def on_event(self, event: events.Event) -> None:
        """Every key passes here first: one meant for what is still on its way waits for it."""
        fresh = isinstance(event, events.Key) and not event.is_forwarded
        if not (fresh and isinstance(event, events.Key) and self.typed_ahead.take(event)):
            await super().on_event(event)

    def on_key(self, event: events.Key) -> None:
        """A key that no widget took: two may arrive at once, and the first may have begun a deed."""
        if self.typed_ahead.take(event):
            event.prevent_default()

    def on_mount(self) -> None:
        """Look whether there is a farm; then keep looking whether it changed."""
        work_on(self, self._begin, "default")

    async def _begin(self) -> None:
        try:
            # The first question about changes only sets the mark that later ones compare with.
            self.zone, _ = await self.hand.ask(lambda farm: (farm.zone, farm.changed()))
        except Trouble as trouble:
            await self.switch_mode(FIRST)
            if not trouble.refused:
                self.call_later(self._damaged, str(trouble))
            return
        await self.switch_mode(HOME)
        self.set_interval(POLL_S, self._poll)
        self.set_interval(REFRESH_S, self._refresh_place)
        self.set_interval(LOOKS_S, self.look_at_carrier)
        self._say_here(" ".join(self.key_faults), "late")

    def _damaged(self, said: str) -> None:
        if isinstance(self.screen, FirstMorning):
            self.screen.damaged(said)

    async def farm_came(self) -> None:
        """A farm was founded, joined or restored here: go home."""
        await self.hand.reopen()
        await self._begin()

    def now(self) -> datetime:
        """This run's moment in the farm's zone."""
        return self.wall.now().astimezone(self.zone)

    def _poll(self) -> None:
        if not self._looking:
            self._looking = True
            work_on(self, self._look, "poll")

    async def _look(self) -> None:
        try:
            changed = await self.hand.ask(lambda farm: farm.changed())
        except Trouble:
            return  # the next reading of a place says it, with the way on
        finally:
            self._looking = False
        if changed:
            self._refresh_place()

    def look_at_carrier(self) -> None:
        """Exchange by itself where the remembered folder or stick has come or changed."""
        work_on(self, self._watch, "watching")

    async def _watch(self) -> None:
        said = await self.watching.look()
        if said:
            self._say_here(said, "dim")
            self._refresh_place()

    def _say_here(self, said: str, tone: str) -> None:
        """Say a sentence in the place that is open, under whatever form lies over it."""
        places = [one for one in self.screen_stack if isinstance(one, Place) and one.is_mounted]
        if said and places:
            places[-1].say(said, tone)

    def _refresh_place(self) -> None:
        self.turn += 1
        if isinstance(self.screen, Place):
            self.screen.reload()

    def action_go(self, place: str) -> None:
        """Go to a place."""
        if self.current_mode != FIRST and not self.screen.is_modal:
            work_on(self, partial(self._go, place), "default")

    async def _go(self, place: str) -> None:
        if self.current_mode != place:
            await self.switch_mode(place)
        while len(self.screen_stack) > 1:
            await self.pop_screen()

    def on_head_chosen(self, event: object) -> None:
        """A place was clicked in the head."""
        self.action_go(getattr(event, "place", HOME))

    def open_record(self, ref: str) -> None:
        """Open the page of an animal or any other record."""
        self.push_screen(RecordPlace(ref))

    def ask(self, place: Place, form: Asking) -> None:
        """Show a short form over a place."""
        place.start(partial(everywhere.ask, place, form))

    def do_work(self, place: Place, lines: Sequence[DueLine]) -> None:
        """Write due work down."""
        place.start(partial(everywhere.do_work, place, lines))

    def does_everywhere(self, id: str) -> bool:
        """Whether any place can do a deed."""
        return id in OWN_DEEDS or everywhere.flow_of(id) is not None

    def do_everywhere(self, place: Place, id: str) -> None:
        """A deed that any place offers."""
        flow = everywhere.flow_of(id)
        if id == "quit":
            self.exit(0)
        elif id == "theme":
            self.theme = look = theme.after(self.theme)
            place.start(partial(self.hand.do, lambda: self.desk.use_look(look)))
            place.say(f"Look: {self.theme}.", "dim")
        elif id == "help":
            self.push_screen(KeysPage(place.place, place.offered(), self.keymap, place.about))
        elif id == "clocks":
            self.push_screen(ClocksPlace())
        elif flow is not None:
            place.start(partial(flow, place))
        else:
            place.say(f"{deed(id).word}: not in this place.", "dim")

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """Whatever fails inside a flow is said in a sentence, never thrown at the keeper."""
        self.typed_ahead.give()
        if event.state is WorkerState.ERROR and isinstance(self.screen, Place):
            fault = type(event.worker.error).__name__
            self.screen.say(f"That did not work ({fault}); nothing was lost. Try it again.", "late")

    def on_unmount(self) -> None:
        """Let the farm go."""
        self.hand.stop()


def run(farm_folder: Path, wall: Wall, by: str, *, plain: str = "") -> int:
    """Run the dashboard on the farm in a folder; ``plain`` prints one place as lines instead."""
    from herdsync.farm import Farm

    if plain:
        from tui.plain import print_place

        return print_place(lambda: Farm.open(farm_folder, wall, by=by), wall, plain)
    holder: list[Dashboard] = []

    def opening() -> Farm:
        return Farm.open(farm_folder, wall, by=holder[0].by if holder else by)

    app = Dashboard(Farmhand(opening), wall, farm_folder, by, Desk.here())
    holder.append(app)
    return app.run() or 0
