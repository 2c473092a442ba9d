"""The form that writes an act down for one animal or many alike, with those that differ apart."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import ClassVar

from textual import events
from textual.binding import Binding, BindingType
from textual.widget import Widget
from textual.widgets import Static

from herdsync.answers import Recorded
from herdsync.kinds import Field
from tui import words
from tui.drafts import WORTH_ASKING, Draft, Whom
from tui.forms.choosing import Choosing, Option
from tui.forms.entry import Entry
from tui.forms.sheet import Sheet
from tui.text import content
from tui.working import work_on

NAMES_SHOWN = 5
SALT_BYTES = 16
Names = Mapping[str, Sequence[str]]  # what may stand for a record of a kind


def entry_of(field: Field, value: str, names: Names) -> Entry:
    """The line of a form for one field of a kind."""
    form = field.form
    choices = getattr(form, "words", ()) or names.get(getattr(form, "kind", "") or "-", ())
    if form.word == "yes or no":
        choices = ("yes", "no")
    takes = (
        "" if choices and form.word == "choice" else f"{form.takes[:1].upper()}{form.takes[1:]}."
    )
    return Entry(
        field.name,
        words.label(field.name),
        value=value,
        hint=f"{field.help} {takes}".strip(),
        choices=list(choices),
        empty="now" if field.default_now else "",
        needed=field.required and not field.default_now,
        of=field,
    )


class Recording(Sheet):
    """Writes one draft down; ``f7`` sets one animal apart, ``f6`` shows every field."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f6", "more", show=False),
        Binding("f7", "differs", show=False),
    ]

    keeps = True

    def __init__(self, draft: Draft, names: Names, about: str = "") -> None:
        super().__init__()
        self.about = about
        self.draft = draft
        self.names = names
        self.caution = draft.warned
        self.apart: dict[Whom, dict[str, str]] = {}
        self.title_text = titled(draft)
        self.recorded = Recorded()
        self._salt = b""
        many = "   f7: one differs" if len(draft.animals) > 1 else ""
        self.keys = f"enter: next   ctrl+s: write   f6: more fields{many}   esc: leave"

    def lines(self) -> Iterable[Widget]:
        """What is asked first, then the rest, hidden."""
        first, more = self.draft.asked()
        fields = self.draft.kind.fields
        for name in first:
            yield entry_of(fields[name], self.draft.pairs.get(name, ""), self.names)
        for name in more:
            entry = entry_of(fields[name], "", self.names)
            entry.display = False
            yield entry
        yield Static("", id="apart")

    def past_caution(self) -> None:
        """To the first line that must be filled, else straight to writing."""
        if self.draft.kind.name in WORTH_ASKING:
            self.begin()
            return
        empty = [entry for entry in self.entries if entry.field in self.draft.missing]
        (empty[0].typing if empty else self.query_one("#write")).focus()

    def key_e(self, event: events.Key) -> None:
        """Away from the lines to type on, ``e`` is as good as F7."""
        event.stop()
        self.action_differs()

    def action_more(self) -> None:
        """Show every field of the kind."""
        for entry in self.entries:
            entry.display = True

    def action_differs(self) -> None:
        """Choose an animal that differs, then say in what."""
        if len(self.draft.animals) > 1:
            self.ready = False
            work_on(self, self._set_apart, "apart", fatal=True)

    async def _set_apart(self) -> None:
        try:
            await self._ask_apart()
        finally:
            self.now_ready()

    async def _ask_apart(self) -> None:
        options = [Option(id, name, "") for id, name in self.draft.animals]
        chosen = await self.app.push_screen_wait(Choosing("Who differs?", options))
        if chosen is None:
            return
        whom = next(one for one in self.draft.animals if one[0] == chosen.id)
        shared = self.given()
        one = Draft(self.draft.kind, shared | self.apart.get(whom, {}), [whom])
        differing = Differing(one, self.names)
        if await self.app.push_screen_wait(differing) is not None:
            self.apart[whom] = differing.pairs
            told = "\n".join(
                f"  {name} apart: " + ", ".join(f"{field} {text}" for field, text in pairs.items())
                for (_, name), pairs in self.apart.items()
            )
            self.query_one("#apart", Static).update(content(told))
            self.query_one("#write").focus()

    async def write(self) -> str:
        """Write it down as one batch, those that differ with what differs."""
        shared = self.draft.silent | self.given()
        alike = [whom for whom in self.draft.animals if whom not in self.apart]
        subject = self.draft.kind.subject or ""
        tellings = [shared | pairs | {subject: id} for (id, _), pairs in self.apart.items()]
        tellings += [shared | {subject: id} for id, _ in alike]
        kind = self.draft.kind.name
        # A draft keeps its salt: written again after a failure, it writes nothing twice.
        self._salt = salt = self._salt or self.home.wall.entropy(SALT_BYTES)
        self.recorded = await self.home.hand.ask(
            lambda farm: farm.record_each(kind, tellings or [shared], salt)
        )
        said = said_written(self.draft, shared.get("name", ""))
        return words.with_warnings(said, self.unread(self.recorded.warnings))


class Differing(Recording):
    """The fields of one animal that differ from the others; nothing is written yet."""

    write_word = "Set apart"
    keeps = False

    def __init__(self, draft: Draft, names: Names) -> None:
        super().__init__(draft, names)
        self.caution = ""
        self.pairs: dict[str, str] = {}
        self._shared = dict(draft.pairs)

    async def write(self) -> str:
        """Keep what differs."""
        self.pairs = {
            name: text for name, text in self.given().items() if self._shared.get(name) != text
        }
        return "apart"


def titled(draft: Draft) -> str:
    """What is written down and for whom."""
    what = draft.kind.title[:1].upper() + draft.kind.title[1:]
    if draft.title and draft.title.casefold() != what.casefold():
        what = f"{draft.title} ({draft.kind.title})"
    names = [name for _, name in draft.animals]
    if not names:
        return what
    if len(names) == 1:
        return f"{what}: {names[0]}"
    more = f" and {len(names) - NAMES_SHOWN} more" if len(names) > NAMES_SHOWN else ""
    return f"{what}: {len(names)} animals ({', '.join(names[:NAMES_SHOWN])}{more})"


def said_written(draft: Draft, called: str = "") -> str:
    """What is said once it is written; ``called``: the name of what was written down."""
    what = draft.kind.title[:1].upper() + draft.kind.title[1:]
    names = [name for _, name in draft.animals]
    whom = names[0] if len(names) == 1 else words.count(len(names), "animal")
    for_whom = f" for {whom}" if names else f": {called}" if called else ""
    return f"{what} written down{for_whom}. u takes it back."
