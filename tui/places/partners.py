"""Partners: laptops, exchange, admission, settings, care plan, backup, checking every byte."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from herdsync.answers import DeviceLine
from herdsync.faults import Refused
from herdsync.meetings import Admission, Visited
from tui import words
from tui.everywhere import carrier_path
from tui.forms.asking import Asked, Asking
from tui.forms.beginning import recovering
from tui.listening import USUAL_PORT, Listening, port_in, visit_words
from tui.pages import partners
from tui.pages.page import Page, Row
from tui.places.place import Place, bindings
from tui.places.settings import PlanPlace, SettingsPlace
from tui.places.trail import verified
from tui.places.unvouched import UnvouchedPlace

if TYPE_CHECKING:
    from herdsync.farm import Farm


ROLES_HELP = (
    "keeper: everything. helper: records, and mends what it wrote itself. reader: reads. It counts "
    "for all that laptop writes that has not been seen here yet."
)
ROLES = ("keeper", "helper", "reader")
ANSWERING = (
    "Only laptops of this farm are answered; each proves its own key before a byte moves. The computer "
    "may ask whether to let herdsync be reached: say yes for your own network only."
)
ADMITTING = {
    "carrier": "The folder, stick or depot through which they asked: /media/stick. Blank: they called over "
    "the network while t was on.",
    "code": "Read out to you by the partner, never sent along. Blank: this only shows who waits.",
    "check": "Over the network alone: the digits their screen shows. Other digits, other laptop: stop.",
    "role": "keeper: everything. helper: records, and mends what it wrote itself. reader: reads.",
}
LETTING_IN = (
    "! Let in only whom you know: from then on that laptop reads everything of the farm and writes by its "
    "role. The code proves that the request is theirs; take it from their own mouth."
)
PUT_OUT = (
    "What that laptop wrote and is seen here still counts. What comes of it later counts for safety "
    "alone until a keeper adopts it. Its key stays out for good: to come back it joins afresh."
)
HANDED_OVER = (
    "From then on that laptop lets others in and puts them out, and this one does not. Only it, or the "
    "recovery words, can give that back."
)


class PartnersPlace(Place):
    """A line a laptop."""

    place = "partners"
    foot = (
        "exchange", "listen", "admit", "unvouched", "role", "remove", "backup", "settings", "plan",
    )  # fmt: skip
    BINDINGS = bindings("partners")
    listening: Listening | None = None

    def read(self, farm: Farm) -> partners.Partners:
        """The laptops."""
        return partners.read(farm)

    def page(self, told: partners.Partners) -> Page:
        """A line each."""
        home = self.home
        by_itself = home.desk.by_itself(home.folder)
        port, visited = 0, ""
        if self.listening is not None:
            port, visited = self.listening.port, self.listening.said
        carrier = partners.Carrier(home.carrier, by_itself, home.watching.said, port, visited)
        return partners.page(told, home.now(), carrier)

    def opened(self, row: Row) -> None:
        """What a laptop wrote stands in the trail; the carrier opens the exchange."""
        deeds = {
            "carrier": "exchange", "safe": "exchange", "waiting": "unvouched", "network": "listen",
            "reads": "recover",
        }  # fmt: skip
        if row.key in deeds:
            self.action_deed(deeds[row.key])
            return
        self.say(f"7 shows the trail; n there narrows it to '{row.name}'.", "dim")

    def on_unmount(self) -> None:
        """Nobody is answered by a dashboard that is closed."""
        if self.listening is not None:
            self.listening.stop()

    def do_listen(self) -> None:
        """Answer partners' laptops over the network, or stop answering."""
        self.start(self._listen)

    async def _listen(self) -> None:
        if self.listening is None:
            self.listening = Listening(self.home.hand, self._visited)
        if self.listening.port:
            await self.listening.end()
            self.say("Nobody is answered over the network any more.", "dim")
            self.reload()
            return
        form = Listen()
        if await self.home.push_screen_wait(form) is not None:
            await self.listening.begin(form.port)
            self.say(f"Answering on port {self.listening.port} while the dashboard is open.")
            self.reload()

    def _visited(self, visit: Visited) -> None:
        if self.listening is not None and self.is_mounted:
            self.listening.said = visit_words(visit)
            self.say(self.listening.said, "good" if visit.moved is not None else "late")
            self.reload()

    def device(self) -> DeviceLine | None:
        """The other laptop under the cursor; says so where there is none."""
        row = self.lines.current
        devices: list[DeviceLine] = self.told.devices if self.told is not None else []
        found = [one for one in devices if row is not None and row.key == f"device {one.key}"]
        if not found or found[0].this:
            self.say("Put the cursor on another laptop first: this is done to a partner's.", "late")
            return None
        return found[0]

    def do_remove(self) -> None:
        """Put the laptop under the cursor out of the farm."""
        line = self.device()
        if line is None:
            return

        def remove(farm: Farm, told: Asked) -> str:
            farm.remove(line.key, told["because"])
            return f"{line.device} is out. What it wrote until now counts; exchange to tell the others."

        questions = (("because", "Why", ""),)
        title = f"Put out: {line.keeper}'s laptop {line.device}"
        form = Asking(title, questions, remove, caution=PUT_OUT, word="Put it out")
        self.home.ask(self, form)

    def do_role(self) -> None:
        """Give the laptop under the cursor another role."""
        line = self.device()
        if line is None:
            return

        def rank(farm: Farm, told: Asked) -> str:
            farm.rank(line.key, told["role"], told["because"])
            return f"{line.device} is {told['role']} from now on; exchange to tell the others."

        questions = (("role", "Role", line.role), ("because", "Why", ""))
        title = f"Another role for {line.keeper}'s laptop {line.device}"
        form = Asking(
            title, questions, rank, caution=ROLES_HELP, word="Give it", choices={"role": ROLES},
            hints={"because": "The trail keeps it."},
        )  # fmt: skip
        self.home.ask(self, form)

    def do_hand_over(self) -> None:
        """Make the laptop under the cursor the steward."""
        line = self.device()
        if line is None:
            return

        def hand_over(farm: Farm, told: Asked) -> str:
            farm.hand_over(line.key, told["because"])
            return f"{line.device} is the steward now; exchange to tell it."

        questions = (("because", "Why", ""),)
        title = f"Hand the stewardship to {line.keeper}'s laptop {line.device}"
        form = Asking(title, questions, hand_over, caution=HANDED_OVER, word="Hand it over")
        self.home.ask(self, form)

    def do_unvouched(self) -> None:
        """See what nobody vouches for yet, to adopt it or set it aside."""
        self.app.push_screen(UnvouchedPlace())

    do_adopt = do_set_aside = do_unvouched

    def do_rehearse(self) -> None:
        """Read the recovery words back from the sheet."""

        def rehearse(farm: Farm, told: Asked) -> str:
            rehearsed = farm.rehearse(told["words"])
            return f"These words rule {rehearsed.name}. Put the sheet back where it is safe."

        questions = (("words", "The 24 words", ""),)
        hint = "In order, parted by spaces. They are only compared, and kept nowhere."
        form = Asking("Rehearse the recovery words", questions, rehearse, word="Compare", hint=hint)
        self.home.ask(self, form)

    def do_recover(self) -> None:
        """Begin again with the recovery words, on a copy that opens to read."""
        self.start(self._recover)

    async def _recover(self) -> None:
        frame = self.home.frame
        names = (frame.keeper, frame.device) if frame is not None else ("", "")
        said = await self.home.push_screen_wait(recovering(self.home, *names))
        if said is not None:
            await self.home.hand.reopen()
            self.reload()
            self.say(said)

    def do_admit(self) -> None:
        """See who waits, and let in whom the code proves."""

        def admit(farm: Farm, told: Asked) -> str:
            if told["carrier"]:
                self.home.carrier = told["carrier"]
            role = told["role"] or "keeper"
            carrier = carrier_path(told["carrier"])
            return admitted(farm.admit(carrier, told["code"], role, told["check"]))

        questions = (
            ("carrier", "Through", self.home.carrier),
            ("code", "Their code", ""),
            ("role", "Role", "keeper"),
            ("check", "Six digits", ""),
        )
        form = Asking(
            "Let a partner's laptop in", questions, admit, about=LETTING_IN, word="Let in",
            hints=ADMITTING, choices={"role": ROLES},
        )  # fmt: skip
        self.home.ask(self, form)

    def do_settings(self) -> None:
        """The farm's settings."""
        self.app.push_screen(SettingsPlace())

    def do_plan(self) -> None:
        """The care plan."""
        self.app.push_screen(PlanPlace())

    def do_backup(self) -> None:
        """Write the farm to one file."""

        def back_up(farm: Farm, told: Asked) -> str:
            backed = farm.backup(Path(told["file"]).expanduser())
            return f"{words.count(backed.entries, 'entry', 'entries')} written to {backed.file}."

        questions = (("file", "Write it to", "herdsync-backup.db"),)
        hint = (
            "The backup holds no key: it opens to read. To write again, join afresh into another "
            "folder, or begin again with the recovery words."
        )
        self.home.ask(self, Asking("Back the farm up", questions, back_up, hint=hint))

    def do_check_bytes(self) -> None:
        """Check every stored byte."""
        self.say("Checking every byte...", "dim")
        self.start(self._verify)

    async def _verify(self) -> None:
        told = await self.home.hand.ask(lambda farm: farm.verify())
        self.say(verified(told), "late" if told.faults or told.forks else "good")


class Listen(Asking):
    """Asks the port to answer on; nothing of the farm is touched."""

    def __init__(self) -> None:
        self.port = USUAL_PORT

        def take(farm: Farm, told: Asked) -> str:
            self.port = port_in(told["port"])
            if not self.port:
                raise Refused(f"'{told['port']}' is no port.", "Give 1024 to 65535, such as 47100.")
            return f"{farm.name}: port {self.port}"

        super().__init__(
            "Answer partners' laptops over the network", (("port", "Port", str(USUAL_PORT)),), take,
            caution=ANSWERING, word="Answer from now on",
            hints={"port": "The same number is typed on the laptop that calls."},
        )  # fmt: skip


def admitted(told: Admission) -> str:
    """Who came in and who waits."""
    said = [f"Let in: {one.keeper} at {one.device}." for one in told.admitted]
    for one in told.waiting:
        digits = f", whose screen must show {one.check}" if one.check else ""
        said.append(f"Waiting: {one.keeper} at {one.device}{digits}.")
    return " ".join(said) or "Nobody waits on that carrier."
