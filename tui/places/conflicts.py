"""Conflicts: every account side by side, resolved with one key, left with a note, blocking nothing."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll

from herdsync.answers import ConflictLine
from herdsync.kinds import CATALOGUE
from tui.drafts import Draft
from tui.everywhere import write_down
from tui.farmhand import Trouble
from tui.forms.asking import Asked, Asking
from tui.pages import conflicts
from tui.pages.page import Page, Row
from tui.places.place import Place, bindings
from tui.widgets.accounts import Account, Accounts
from tui.widgets.frame import Foot
from tui.widgets.lines import Lines
from tui.working import work_on

if TYPE_CHECKING:
    from herdsync.farm import Farm

WAYS = {
    "field": ("take", "value"),
    "retract": ("take", "value"),
    "pair": ("same", "different"),
    "rule": ("accept",),
}
CLOSED = "This was resolved already. i hides what was resolved; u takes your own last word back."
WHY = "It goes with what you choose next on this conflict: t, s or d. The trail keeps it."
# A resolution is not undone: it ended accounts, which would be lost from sight.
MENDED = "Were it wrong after all, amend the record (e)."
CHOOSE_FIRST = "Choose an account first: enter or right, then t."


class ConflictsPlace(Place):
    """The list of conflicts over the accounts of the one under the cursor."""

    place = "conflicts"
    foot = ("take", "value", "same", "different", "accept", "why", "every", "open", "undo")
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings("conflicts"),
        Binding("left", "point(-1)", show=False),
        Binding("right", "point(1)", show=False),
        Binding("pageup", "scroll(-1)", show=False, priority=True),
        Binding("pagedown", "scroll(1)", show=False, priority=True),
    ]
    every = False
    because = ""  # said first, for what is chosen next
    _at = ""  # the conflict that reason belongs to

    def body(self) -> ComposeResult:
        """The list over the accounts."""
        yield Lines(id="lines")
        with VerticalScroll(id="around", can_focus=False):
            yield Accounts(id="accounts")

    def read(self, farm: Farm) -> conflicts.Conflicts:
        """Conflicts and the records they touch."""
        return conflicts.read(farm, self.stands(farm).timers, every=self.every)

    def page(self, told: conflicts.Conflicts) -> Page:
        """A line a conflict."""
        return conflicts.page(told)

    @property
    def accounts(self) -> Accounts:
        """The accounts shown."""
        return self.query_one(Accounts)

    def line(self) -> ConflictLine | None:
        """The conflict under the cursor."""
        row = self.lines.current
        lines: list[ConflictLine] = self.told.lines if self.told is not None else []
        return next((one for one in lines if row is not None and one.id == row.key), None)

    def tell_aside(self, row: Row | None) -> None:
        """Lay the accounts out side by side."""
        del row
        line = self.line()
        if line is None or line.id != self._at:
            self._at, self.because = line.id if line is not None else "", ""
        if line is None:
            self.accounts.tell([], [])
            return
        now = self.home.now()
        accounts = [
            Account(
                claim.id,
                conflicts.who(claim),
                conflicts.account_lines(claim, line, self.told, now),
            )
            for claim in line.claims
        ]
        above = conflicts.above(line, self.told, now)
        below = conflicts.below(line, self.told, now)
        self.accounts.tell([*above, ("", "plain")], accounts, below)
        keys = WAYS.get(line.kind, ()) if line.open else ()
        why = ("why", "note", "amend") if line.open else ()
        self.query_one(Foot).tell(self.deeds_here((*keys, *why, "every", "undo", "find")))
        self.foresee()

    def opened(self, row: Row) -> None:
        """Enter points at the first account; where one is pointed at, opens the record."""
        line = self.line()
        if line is not None and line.open and self.accounts.at < 0:
            self.accounts.point(1)
        elif row.record:
            self.home.open_record(row.record)

    def action_scroll(self, by: int) -> None:
        """See the accounts further up or down."""
        around = self.query_one("#around", VerticalScroll)
        around.scroll_relative(y=by * max(1, around.size.height - 1), animate=False)

    def action_point(self, by: int) -> None:
        """Point at another account."""
        self.accounts.point(by)

    def on_accounts_pointed(self) -> None:
        """Another account is pointed at: see what taking it would change."""
        self.foresee()

    def foresee(self) -> None:
        """Work out what the choice at hand would change, and tell it under the accounts."""
        line, chosen = self.line(), self.accounts.chosen
        if line is not None and line.open and line.kind != "rule":
            take = chosen.id if chosen is not None and line.kind != "pair" else ""
            if take or line.kind == "pair":
                work_on(self, partial(self._foresee, line, take), "looking", alone=True)

    async def _foresee(self, line: ConflictLine, take: str) -> None:
        try:
            told = await self.home.hand.ask(lambda farm: conflicts.foreseen(farm, line, take))
        except Trouble as trouble:
            told = [(str(trouble), "dim")]
        here, chosen = self.line(), self.accounts.chosen
        same = line.kind == "pair" or (chosen is not None and chosen.id == take)
        if here is not None and here.id == line.id and same:
            self.accounts.tell_choice(told)

    def do_take(self) -> None:
        """Take the account pointed at."""
        line, chosen = self.line(), self.accounts.chosen
        if line is None:
            return
        if not line.open:
            self.say(CLOSED, "late")
        elif line.kind in ("pair", "rule"):
            self.say("There is no account to take here. " + line.mend, "late")
        elif chosen is None:
            self.say(CHOOSE_FIRST, "late")
        else:
            self.start(partial(self._take, line, chosen))

    async def _take(self, line: ConflictLine, chosen: Account) -> None:
        because = self.said_why()
        await self.home.hand.ask(
            lambda farm: farm.resolve(line.id, take=chosen.id, because=because)
        )
        self.say(f"Resolved for {line.name or 'the farm'}: {chosen.who} is right. {MENDED}")
        self.reload()

    def do_value(self) -> None:
        """Say what is right where no account is."""
        line = self.line()
        if line is None or not line.open or line.kind not in ("field", "retract"):
            return
        kind = CATALOGUE.get(line.record_kind)
        fields = kind.registers.get(line.field, (line.field,)) if kind is not None else ()
        hint = "yes: it stands; no: it was rightly taken back." if line.kind == "retract" else ""
        if len(fields) > 1:
            hint = "These belong together: write " + ",".join(f"{name}=..." for name in fields)
        elif kind is not None and fields and fields[0] in kind.fields:
            hint = kind.fields[fields[0]].help + " " + kind.fields[fields[0]].form.takes

        def resolve(farm: Farm, told: Asked) -> str:
            farm.resolve(line.id, value=told["value"], because=told["because"])
            return f"Resolved: {told['value']}. {MENDED}"

        questions = (("value", "What is right", ""), ("because", "Why", self.said_why()))
        title = f"{conflicts.what(line)}, {line.name}"
        self.home.ask(self, Asking(title, questions, resolve, word="Resolve", hint=hint))

    def do_same(self) -> None:
        """Say that two records are one."""
        self._tie(same=True)

    def do_different(self) -> None:
        """Say that two records are two."""
        self._tie(same=False)

    def _tie(self, *, same: bool) -> None:
        line = self.line()
        if line is None or line.kind != "pair" or len(line.records) < 2:
            self.say("Same or different is for two records that may be one.", "late")
        elif line.open:
            self.start(partial(self._tied, line, same=same))
        else:
            self.say(CLOSED, "late")

    async def _tied(self, line: ConflictLine, *, same: bool) -> None:
        a, b = line.records[:2]
        because = self.said_why()
        await self.home.hand.ask(
            lambda farm: (farm.same if same else farm.different)(a, b, because)
        )
        said = "One, written twice: where they differ is a conflict of its own" if same else "Two"
        self.say(f"{said}. u takes it back.")
        self.reload()

    def do_accept(self) -> None:
        """Let a broken rule stand, with the reason."""
        line = self.line()
        if line is None or not line.open or line.kind != "rule":
            self.say("Letting stand is for what breaks a rule; here take an account.", "late")
            return

        def accept(farm: Farm, told: Asked) -> str:
            farm.resolve(line.id, accept=True, because=told["because"])
            return "It stands as written; i shows it again."

        questions = (("because", "Why it may stand", self.said_why()),)
        self.home.ask(self, Asking(f"Let stand: {line.says}", questions, accept))

    def do_why(self) -> None:
        """Say why, before choosing: the reason goes with the choice."""
        line = self.line()
        if line is None or not line.open:
            return

        def keep(farm: Farm, told: Asked) -> str:
            del farm
            self.because = told["because"]
            return f"Because: {self.because}. Now choose." if self.because else "No reason is kept."

        form = Asking("Why?", (("because", "Why", self.because),), keep, word="Keep it", hint=WHY)
        self.home.ask(self, form)

    def said_why(self) -> str:
        """The reason said first, once."""
        because, self.because = self.because, ""
        return because

    def do_note(self) -> None:
        """Leave the conflict for the partner, with a note on its record."""
        line = self.line()
        if line is not None:
            pairs = {"about": line.subject}
            title = f"A note on {conflicts.what(line)}, {line.name}"
            self.start(partial(self._note, Draft(CATALOGUE["note"], pairs, [], "", title)))

    async def _note(self, draft: Draft) -> None:
        await write_down(self, draft)

    def do_amend(self) -> None:
        """Open the record pointed at, to amend it."""
        self._open_pointed()

    def do_retract(self) -> None:
        """Open the record pointed at, to take it back."""
        self._open_pointed()

    def _open_pointed(self) -> None:
        line, chosen = self.line(), self.accounts.chosen
        if line is None:
            return
        claim = next((one for one in line.claims if chosen and one.id == chosen.id), None)
        ref = str(claim.value) if claim is not None and line.kind != "field" else line.subject
        self.home.open_record(ref if ref in line.records else line.subject)

    def do_every(self) -> None:
        """Show resolved ones too, or hide them again."""
        self.every = not self.every
        self.reload()
