"""Deeds that any place offers: write down, undo, find, exchange, copy, say who, change the look.

Each is a flow: ask what is missing, do it on the farm's thread, say what came of it.
"""

from __future__ import annotations

from collections.abc import Callable, Coroutine, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from herdsync.answers import DueLine, HerdLine
from herdsync.deeds import deed
from herdsync.kinds import CATALOGUE
from herdsync.meetings import Exchanged
from tui import words
from tui.drafts import Draft, drafts_of, of_a_kind
from tui.forms.asking import Asked, Asking
from tui.forms.choosing import Choosing, Option
from tui.forms.figures import Figures
from tui.forms.importing import import_table
from tui.forms.kidding import Kid
from tui.forms.planning import PlanItem
from tui.forms.recording import Recording
from tui.pages import boards, milk
from tui.places.place import Place

if TYPE_CHECKING:
    from herdsync.farm import Farm

NOON = 12
LEFT = "Nothing was written. What you typed waits in the same form until the dashboard closes."
NO_KIDS = "How many were born alive is not told, so no kid is asked for: e amends it, r writes a kid down."
EXCHANGE_HINTS = {
    "carrier": "A folder or stick: /media/stick. A laptop that listens: 192.168.1.20:47100, or its name "
    "once met. A depot: sftp://you@host/herd, s3://bucket/herd.",
    "watch": "Yes: whenever that folder or stick is there while the dashboard is open. A laptop or depot "
    "is asked only when you do.",
}
Flow = Callable[[Place], Coroutine[Any, Any, None]]
# What a keeper never writes by hand: the dashboard has a deed of its own for each.
NOT_BY_HAND = frozenset({"skip", "postpone", "setting"})


def names_in(farm: Farm) -> dict[str, list[str]]:
    """What may be typed for a record of a kind, by name."""
    return {kind: farm.names(kind) for kind in ("animal", "pen", "product", "course", "kidding")}


def about_whom(farm: Farm, draft: Draft) -> str:
    """The one animal a draft is for, so that the keeper sees it is the right one; many by name."""
    if len(draft.animals) > 1:
        return ", ".join(name for _, name in draft.animals)
    herd = {line.id: line for line in farm.herd(every=True)}
    line = herd.get(draft.animals[0][0]) if draft.animals else None
    if line is None:
        return ""
    said = (
        f"{line.sex_now}, {words.age(line.age_days)}, {words.mark_of(line)}, {line.pen or 'no pen'}"
    )
    return f"{said}  {words.hold_tags(line.holds)}".rstrip()


def _form_of(draft: Draft) -> type[Figures | Recording]:
    """The form a draft is written down in."""
    if draft.one_figure:
        return Figures
    return PlanItem if draft.kind.name == "plan-item" else Recording


async def write_down(place: Place, draft: Draft) -> bool:
    """Ask for what a draft lacks and write it; whether it was written. A kidding asks for its kids."""
    home = place.home
    if home.frame is not None and home.frame.read_only:
        # Before anything is typed, not after.
        place.say(home.frame.read_only, "late")
        return False
    names, about = await home.hand.ask(lambda farm: (names_in(farm), about_whom(farm, draft)))
    if draft.kind.name == "tattoo" and len(draft.animals) == 1:
        mark, ears = await home.hand.ask(lambda farm: boards.suggested(farm, draft.animals[0][0]))
        about, draft = f"{about}   {mark}".strip(), replace(draft, pairs=ears | draft.pairs)
    if draft.kind.name == "milk":
        draft = await home.hand.ask(lambda farm: milked(farm, draft, home.now().hour))
    sires = await home.hand.ask(sires_of) if draft.kind.name == "kidding" else {}
    form = _form_of(draft)(draft, names, about)
    said = await home.push_screen_wait(form)
    if said is not None:
        place.say(said)
        place.done_with(draft)
        place.reload()
    elif form.left:
        place.say(LEFT, "dim")
    if said is not None and draft.kind.name == "kidding" and isinstance(form, Recording):
        for kidding in [form.recorded.id] if form.recorded.id else form.recorded.ids:
            await _kids(place, kidding, sires, said)
    return said is not None


def milked(farm: Farm, draft: Draft, hour: int) -> Draft:
    """A milking with the slot of the hour, and with whose milk is held now: that is not sold."""
    animals = {id for id, _ in draft.animals}
    held = {line.id for line in farm.herd() if milk.is_apart(line)} & animals
    pairs = {"milking": "morning" if hour < NOON else "evening"} | draft.pairs
    if len(animals) == 1 and held:
        pairs["sold"] = "no"
    return replace(draft, pairs=pairs, apart=frozenset(held))


def sires_of(farm: Farm) -> dict[str, str]:
    """By whom each doe in kid was mated, where that is sure; by her name."""
    return {line.name: line.sire for line in farm.kidding() if line.sure and line.sire}


async def _kids(place: Place, kidding: str, sires: Mapping[str, str], said: str) -> None:
    """A sheet for each kid born alive, until the keeper leaves one; at the end all that was said."""
    told = await place.home.hand.ask(lambda farm: farm.show(kidding))
    alive, doe, on = (told.fields.get(name) for name in ("born_alive", "doe", "on"))
    born = alive.value if alive is not None and isinstance(alive.value, int) else 0
    if alive is None or alive.value is None:
        place.say(f"{said} {NO_KIDS}")
    if not born or doe is None or on is None:
        return
    names = await place.home.hand.ask(names_in)
    birth = words.typed_again(str(on.value), place.home.now())
    told_so_far = [said]
    pen = await place.home.hand.ask(lambda farm: farm.animal_line(str(doe.value)).pen)
    for place_in_litter in range(1, born + 1):
        pairs = {
            "dam": doe.shown, "kidding": kidding, "born": birth, "standing": "here",
            "birth_order": str(place_in_litter),
        }  # fmt: skip
        if doe.shown in sires:
            pairs["sire"] = sires[doe.shown]
        title = f"Kid {place_in_litter} of {born} of {doe.shown}"
        form = Kid(Draft(CATALOGUE["animal"], pairs, [], "", title), names, pen)
        written = await place.home.push_screen_wait(form)
        if written is None:
            return
        # What was said of the doe was covered by the sheets of her kids.
        told_so_far.append(written)
        place.say(" ".join(told_so_far))
        place.reload()


async def do_work(place: Place, lines: Sequence[DueLine]) -> None:
    """Write due work down: what is plain at once, what needs a look in its form, one after another."""
    home = place.home
    drafts = drafts_of(list(lines), home.now())
    plain = [draft for draft in drafts if draft.plain]

    def record(farm: Farm) -> list[str]:
        warnings: list[str] = []
        for draft, *more in of_a_kind(plain):
            if more:
                tellings = [one for each in (draft, *more) for one in each.tellings]
                warnings += farm.record_each(draft.kind.name, tellings).warnings
            else:
                ids = [id for id, _ in draft.animals]
                warnings += farm.record(draft.kind.name, draft.pairs, ids).warnings
        return warnings

    if plain:
        warnings = await home.hand.ask(record)
        said = _done(plain)
        place.say(words.with_warnings(said, warnings))
        for draft in plain:
            place.done_with(draft)
        place.reload()
    for draft in drafts:
        if not draft.plain and not await write_down(place, draft):
            return


def _done(drafts: Sequence[Draft]) -> str:
    first = drafts[0]
    names = ", ".join(name for _, name in first.animals[:3])
    more = sum(len(draft.animals) for draft in drafts) - min(3, len(first.animals))
    who = f"{names} and {more} more" if more > 0 else names
    back = "u takes it back" if len(of_a_kind(drafts)) == 1 else "u takes back the last of it"
    return f"Done: {first.title or first.kind.title}{f', {who}' if who else ''}. {back}."


async def record(place: Place, kinds: Sequence[str] = ()) -> None:
    """Choose a kind of record where there is a choice, then write it down."""
    offered = kinds or [name for name in CATALOGUE if name not in NOT_BY_HAND]
    name = offered[0]
    if len(offered) > 1:
        options = [
            Option(one, CATALOGUE[one].title, CATALOGUE[one].help.split("\n")[0]) for one in offered
        ]
        chosen = await place.home.push_screen_wait(Choosing("Write down what?", options))
        if chosen is None:
            return
        name = chosen.id
    kind = CATALOGUE[name]
    animals = place.animals() if kind.subject is not None else []
    await write_down(place, Draft(kind, {}, animals))


async def undo(place: Place) -> None:
    """Take back the last thing this laptop wrote."""

    def take_back(farm: Farm) -> str:
        written = farm.undo()
        return f"Taken back: {farm.show(written.id).title}."

    place.say(await place.home.hand.ask(take_back))
    place.reload()


def in_short(line: HerdLine) -> str:
    """What tells one animal from another of like name."""
    return f"{line.sex_now}, {words.mark_of(line)}, {line.pen or line.standing}"


async def find(place: Place) -> None:
    """Find an animal or record by name, mark or any word, and open it."""
    home = place.home

    def look(farm: Farm, text: str) -> list[Option]:
        if not text.strip():
            return [Option(line.id, line.name, in_short(line)) for line in farm.herd()]
        found = farm.find(text)
        animals = {one.id: in_short(one) for one in farm.animal_lines(one.id for one in found)}
        options = [Option(one.id, one.title, animals.get(one.id, one.matched)) for one in found]
        begun = text.strip().casefold()
        # Who is called so stands before who only has these letters somewhere.
        return sorted(options, key=lambda one: not one.name.casefold().startswith(begun))

    async def supply(text: str) -> list[Option]:
        return await home.hand.ask(lambda farm: look(farm, text))

    chosen = await home.push_screen_wait(
        Choosing("Find by name, tattoo, tag or any word", await supply(""), supply)
    )
    if chosen is not None:
        home.open_record(chosen.id)


async def exchange(place: Place) -> None:
    """Exchange with a partner through a folder or stick."""
    home = place.home

    def meet(farm: Farm, told: Asked) -> str:
        moved = farm.exchange(carrier_path(told["carrier"]))
        by_itself = not told["watch"].casefold().startswith("n")
        home.desk.use_carrier(home.folder, told["carrier"], by_itself=by_itself)
        return exchanged(moved)

    watched = "yes" if home.desk.by_itself(home.folder) else "no"
    questions = (("carrier", "Through", home.carrier), ("watch", "By itself", watched))
    form = Asking(
        "Exchange", questions, meet, word="Exchange now", hints=EXCHANGE_HINTS,
        choices={"watch": ("yes", "no")},
    )  # fmt: skip
    await ask(place, form)


def carrier_path(told: str) -> str:
    """A carrier as typed, the way the farm takes it: the keeper's own folder spelled out."""
    return str(Path(told).expanduser()) if told.startswith("~") else told


def exchanged(told: Exchanged) -> str:
    """What one exchange moved, in a sentence."""
    said = f"Exchanged: {told.sent} sent, {told.received} received."
    if told.conflicts:
        said += f" {words.count(told.conflicts, 'conflict')} to look at (6)."
    if told.unvouched:
        said += f" {words.count(told.unvouched, 'entry', 'entries')} not vouched for."
    return " ".join([said, *told.told[:2]])


async def ask(place: Place, form: Asking) -> None:
    """Show a short form; say what came of it."""
    said = await place.home.push_screen_wait(form)
    if said is not None:
        place.say(said)
        place.reload()


async def who(place: Place) -> None:
    """Say who is at the keyboard; what is written from now on carries that name."""
    home = place.home
    questions = (("by", "Your name", home.by),)

    def note(farm: Farm, told: Asked) -> str:
        home.by = told["by"]
        return f"Written from now on by {told['by'] or farm.keeper}."

    hint = "Who is at the keyboard; blank: the keeper of this laptop."
    await ask(place, Asking("Who writes?", questions, note, word="That is me", hint=hint))
    await home.hand.reopen()
    place.reload()


async def copy(place: Place) -> None:
    """Copy what is under the cursor: the id where the line has one."""
    rows = place.selected()
    if rows:
        told = rows[0].animal or rows[0].record or rows[0].key
        place.home.copy_to_clipboard(told)
        place.say(f"Copied {told[:12]} (where the terminal allows it).", "dim")


FLOWS: dict[str, Flow] = {
    "record": record, "undo": undo, "find": find, "exchange": exchange, "who": who, "copy": copy,
    "import": import_table,
}  # fmt: skip


def flow_of(id: str) -> Flow | None:
    """The flow of a deed; for one that writes certain kinds, recording these."""
    kinds = deed(id).kinds
    if id not in FLOWS and kinds:
        return lambda place: record(place, kinds)
    return FLOWS.get(id)
