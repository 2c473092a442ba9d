"""The table of actions: what a keeper can do, by which word, key and verb, and where.

Command line help, the dashboard's footer, help page and palette all read this one table, so they
cannot tell different stories. Must not know the farm, the terminal or any widget.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Place:
    """One place of the dashboard: its heading, the digit that goes there, what it answers."""

    id: str
    word: str
    key: str
    help: str


# What else can be printed as plain lines; after a colon comes the animal or pen it is of.
PRINTED = (
    "clocks", "yields", "worms", "tests", "marks", "pens", "kiddings", "settings", "plan", "unvouched",
    "animal:NAME", "drawn:NAME", "bucks:DOE", "walk:PEN",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Deed:
    """One action.

    ``word``: one or two words for a footer. ``keys``: the dashboard's keys, the first one shown;
    letters, digits, F keys, enter, escape and arrows arrive in every terminal, any other sign only
    doubles one of these. ``kinds``: the kinds of record it writes, the usual one first. ``verb``:
    the command line's verb, empty where there is none. ``places``: where the dashboard offers it.
    """

    id: str
    word: str
    keys: tuple[str, ...]
    help: str
    kinds: tuple[str, ...] = ()
    verb: str = ""
    places: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        """The key to show; empty for what only the command line does."""
        return self.keys[0] if self.keys else ""


PLACES = (
    Place("rounds", "Rounds", "1", "What each animal needs now, in the order of a walk."),
    Place("herd", "Herd", "2", "Every animal, where it is and what holds it."),
    Place("kidding", "Kidding", "3", "Does in kid, when they are due, kids and their first weeks."),
    Place("medicine", "Medicine", "4", "Running clocks, withdrawals, courses and medicines."),
    Place("milk", "Milk", "5", "Milkings and whose milk may not be sold."),
    Place("conflicts", "Conflicts", "6", "What was written that does not agree, side by side."),
    Place("trail", "Trail", "7", "Who wrote and changed what, newest first."),
    Place("partners", "Partners", "8", "The laptops of this farm, what each has and who waits."),
)
# Reached from other places, so without a digit: one animal's page, the clocks, the walk of a pen.
ANIMAL, CLOCKS, WALK = "animal", "clocks", "walk"
EVERYWHERE = (*(place.id for place in PLACES), ANIMAL, CLOCKS, WALK)
WITH_ANIMALS = ("rounds", "herd", "kidding", "medicine", "milk", ANIMAL, WALK)

_WORK = (
    Deed("done", "Done", ("d",), "Record the work under the cursor as done.", (), "",
         ("rounds", ANIMAL, WALK)),
    Deed("skip", "Skip", ("z",), "Leave one piece of due work undone, with the reason.",
         ("skip",), "skip", ("rounds", ANIMAL, WALK)),
    Deed("postpone", "Later", ("l",), "Put one piece of due work off until a day, with the reason.",
         ("postpone",), "postpone", ("rounds", ANIMAL, WALK)),
)  # fmt: skip

_RECORDING = (
    Deed("record", "Record", ("r",), "Write down any act or thing of the farm.", (), "record",
         EVERYWHERE),
    Deed("weigh", "Weigh", ("w",), "Record a weight.", ("weighing",), "", WITH_ANIMALS),
    Deed("give", "Give", ("g",), "Record a medicine or vaccine given.", ("dose", "vaccination"), "",
         (*WITH_ANIMALS, CLOCKS)),
    Deed("trim", "Trim", ("t",), "Record a hoof trim, foot by foot.", ("hoof-trim",), "",
         ("rounds", "herd", ANIMAL, WALK)),
    Deed("look", "Look", ("c",), "Record a check: what was looked at and what was found.",
         ("check", "eyelid-score", "condition-score", "temperature", "udder-check", "illness"), "",
         WITH_ANIMALS),
    Deed("milk", "Milk", ("m",), "Record a milking.", ("milk", "test-day"), "",
         ("rounds", "herd", "milk", ANIMAL)),
    Deed("breed", "Breed", ("o",), "Record a heat, a mating or a pregnancy check.",
         ("mating", "heat", "pregnancy-check"), "", ("herd", "kidding", ANIMAL)),
    Deed("kid", "Kidding", ("k",), "Record a kidding, then each kid.", ("kidding", "animal"), "",
         ("rounds", "herd", "kidding", ANIMAL)),
    Deed("move", "Move", ("p",), "Move an animal to a pen.", ("pen-move",), "", WITH_ANIMALS),
    Deed("note", "Note", ("n",), "Write a note about an animal.", ("note",), "",
         (*WITH_ANIMALS, "conflicts")),
)  # fmt: skip

_MENDING = (
    Deed("amend", "Amend", ("e",), "Change fields of a record; what was there stays in the trail.",
         (), "amend", (ANIMAL, "trail", "conflicts")),
    Deed("retract", "Retract", ("x",), "Take a record back, with the reason.", (), "retract",
         (ANIMAL, "trail", "conflicts")),
    Deed("undo", "Undo", ("u",), "Take back the last thing this laptop wrote.", (), "undo",
         EVERYWHERE),
    Deed("take", "Take", ("t",), "Resolve a conflict: take the account under the cursor.", (), "",
         ("conflicts",)),
    Deed("value", "Value", ("v",), "Resolve a conflict with another value than any account.", (),
         "", ("conflicts",)),
    Deed("why", "Why", ("w",), "Say why first: the reason goes with what you choose next.", (), "",
         ("conflicts",)),
    Deed("accept", "Let stand", ("a",), "Let a broken rule stand, with the reason.", (), "",
         ("conflicts",)),
    Deed("same", "Same", ("s",), "Say that two records are one act or thing written twice.", (),
         "same", ("conflicts",)),
    Deed("different", "Different", ("d",), "Say that two records are two.", (), "different",
         ("conflicts",)),
)  # fmt: skip

_MOVING_ABOUT = (
    Deed("open", "Open", ("enter",), "Open what is under the cursor.", (), "",
         tuple(place for place in EVERYWHERE if place != WALK)),
    Deed("back", "Back", ("escape",), "Go back, or drop what was selected.", (), "", EVERYWHERE),
    Deed("select", "Select", ("s", "space"), "Select or drop the animal under the cursor.", (), "",
         ("rounds", "herd", "kidding", "medicine", "milk")),
    Deed("select-pen", "Whole pen", ("a",), "Select every animal of the pen under the cursor.", (),
         "", ("rounds", "herd", "kidding", "medicine", "milk")),
    Deed("find", "Find", ("f", "slash"), "Find an animal or record by any word in it.", (), "find",
         EVERYWHERE),
    Deed("walk", "Walk", ("f3",), "Go through a pen animal by animal, with all that is due.", (), "",
         ("rounds",)),
    Deed("clocks", "Clocks", ("f4",), "Every running clock, and timers for the bench.", (), "",
         EVERYWHERE),
    Deed("iron", "Iron", ("i",), "Start or stop the time the disbudding iron needs to heat.", (), "",
         (CLOCKS,)),
    Deed("touch", "Touch", ("t",), "Count the seconds of one touch of the iron; rings when it must end.",
         (), "", (CLOCKS,)),
    Deed("onward", "Onward", ("right", "space", "down", "enter"), "Go on to the next animal.", (), "",
         (WALK,)),
    Deed("backward", "Backward", ("left", "up", "backspace"), "Go back to the animal before.", (), "",
         (WALK,)),
    Deed("number", "By number", ("1", "2", "3", "4", "5", "6", "7", "8", "9"),
         "Do the work of that number.", (), "", (WALK,)),
    Deed("order", "Order", ("o",), "Order by the walk through the pens, or by what presses most.",
         (), "", ("rounds",)),
    Deed("narrow", "Narrow", ("n",), "Show only lines with certain words: a keeper, a laptop, a kind.",
         (), "", ("trail",)),
    Deed("known", "As known", ("w",), "See the herd as this entry and those before it knew it.", (),
         "", ("trail",)),
    Deed("picture", "Picture", ("j",), "See it drawn: growth, milk, family, pens, kiddings.", (), "",
         ("herd", "kidding", "milk", ANIMAL)),
    Deed("theme", "Theme", ("f8",), "Change the look: night, day, high contrast.", (), "",
         EVERYWHERE),
    Deed("every", "All", ("i",), "Show what is hidden too: ahead, gone, resolved.", (), "",
         ("rounds", "herd", "conflicts")),
    Deed("copy", "Copy", ("y",), "Copy the id under the cursor.", (), "", EVERYWHERE),
    Deed("who", "Who", ("f2",), "Say who is at the keyboard.", (), "", EVERYWHERE),
    Deed("exchange", "Exchange", ("b", "f5"), "Exchange by folder or stick, over a network, or a depot.",
         (), "exchange", EVERYWHERE),
    Deed("admit", "Admit", ("j",), "See who waits to join on a carrier, and admit them.", (),
         "admit", ("partners",)),
    Deed("prove", "Prove", ("k",), "Write a file that proves an entry with public tools alone.", (),
         "proof", ("trail",)),
    Deed("check-bytes", "Verify", ("v",), "Check every stored byte, link and signature.", (),
         "verify", ("trail", "partners")),
    Deed("help", "Help", ("h", "f1", "question_mark"), "Show the keys of this place.", (), "",
         EVERYWHERE),
    Deed("quit", "Quit", ("q",), "Leave the dashboard; everything written is kept.", (), "",
         EVERYWHERE),
)  # fmt: skip

_ASKED_ONLY = (
    Deed("found", "Found", (), "Found a new farm on this laptop.", (), "found"),
    Deed("remove", "Put out", ("x",), "Put a laptop out of the farm; later writing of it waits for a "
         "word.", (), "remove", ("partners",)),
    Deed("role", "Role", ("o",), "Give a laptop another role: keeper, helper or reader.", (), "role",
         ("partners",)),
    Deed("hand-over", "Hand over", ("g",), "Make another laptop the steward.", (), "hand-over",
         ("partners",)),
    Deed("unvouched", "Unvouched", ("n",), "List entries nobody vouches for yet.", (), "unvouched",
         ("partners",)),
    Deed("adopt", "Adopt", ("a",), "Let unvouched entries count after all.", (), "adopt",
         ("partners",)),
    Deed("set-aside", "Set aside", ("z",), "Let unvouched entries count for nothing.", (),
         "set-aside", ("partners",)),
    Deed("listen", "Listen", ("t",), "Answer partners' laptops that call over the network, or stop.", (),
         "", ("partners",)),
    Deed("rehearse", "Rehearse", ("w",), "Read the recovery words back from the sheet.", (),
         "rehearse", ("partners",)),
    Deed("recover", "Recover", ("c",), "Begin again with the recovery words.", (), "recover",
         ("partners",)),
    Deed("join", "Join", (), "Ask to join a farm that a partner founded.", (), "join"),
    Deed("devices", "Devices", (), "List the laptops of the farm.", (), "devices"),
    Deed("settings", "Settings", ("s",), "List the farm's settings, or set one.", ("setting",),
         "settings", ("partners",)),
    Deed("kinds", "Kinds", (), "Explain what can be recorded, and every field of it.", (), "kinds"),
    Deed("plan", "Plan", ("l",), "List the care plan: what, when, on whose word; or try a change of it.",
         ("plan-item",), "plan", ("partners",)),
    Deed("trial", "Other plan", ("p",), "See what another shipped care plan would make due; take it or not.",
         (), "", ("partners",)),
    Deed("take-plan", "Take it", ("d",), "Let the care plan that was looked at count from now on.", (),
         "", ("partners",)),
    Deed("due", "Due", (), "List due work, each line with its reason.", (), "due"),
    Deed("timers", "Timers", (), "List running clocks: doses, rechecks, withdrawals, rings.", (),
         "timers"),
    Deed("herd", "Herd", (), "List the animals.", (), "herd"),
    Deed("show", "Show", (), "Show one animal or record whole, every account of it.", (), "show"),
    Deed("conflicts", "Conflicts", (), "List what was written that does not agree.", (),
         "conflicts"),
    Deed("resolve", "Resolve", (), "Resolve a conflict: an account, another value, or let it be.",
         (), "resolve"),
    Deed("trail", "Trail", (), "Tell who wrote and changed a record, entry by entry.", (), "trail"),
    Deed("watch", "Watch", (), "Exchange whenever the folder changes; --listen for a laptop.", (), "watch"),
    Deed("dose", "Volume", ("v",), "Work out a volume from the figures on label or script.", (),
         "dose", ("medicine",)),
    Deed("match", "Match", ("v",), "Tell what would follow from mating two animals.", (), "match",
         ("kidding",)),
    Deed("ration", "Ration", (), "Sum a ration: calcium, phosphorus, trace minerals, ceilings.", (),
         "ration"),
    Deed("holds", "Holds", (), "List what may not be sold, bred or moved yet, and why.", (), "holds"),
    Deed("medicines", "Medicine", (), "List medicines with stock and expiry, and courses.", (),
         "medicine"),
    Deed("eggs", "Eggs", ("e",), "Tell worm scores and counts, and whether each wormer worked.", (),
         "eggs", ("medicine",)),
    Deed("screening", "Tests", ("t",), "List disease tests, newcomers kept apart, papers to keep.",
         (), "screening", ("medicine",)),
    Deed("bucks", "Bucks", ("d",), "Rank all bucks for a doe, the least inbred kids first.", (),
         "bucks", ("kidding",)),
    Deed("kiddings", "Due does", (), "List the does that are mated or bred, the next to kid first.",
         (), "kidding"),
    Deed("exposures", "Exposed", (), "List does that shared a pen with a male able to sire.", (),
         "exposures"),
    Deed("kids", "Kid board", ("t",), "Show each kid: its windows, growth, and a buckling's decision.", (),
         "kids", ("kidding",)),
    Deed("marks", "Marks", ("v",), "Suggest the next tattoo, and check the marks on record.", (),
         "mark", ("herd", ANIMAL)),
    Deed("yields", "Lactations", ("v",), "Tell milk given, sold and held, and the lactations.", (),
         "milk", ("milk",)),
    Deed("backup", "Back up", ("k",), "Write the whole farm to one file, without any key.", (),
         "backup", ("partners",)),
    Deed("restore", "Restore", (), "Bring a farm back from a backup, to read.", (), "restore"),
    Deed("papers", "Papers", ("f9",), "Write papers for a buyer, a registry or the vet, and sign them.", (),
         "papers", ("herd", ANIMAL)),
    Deed("calendar", "Calendar", (), "Write due work, windows and clocks as a calendar for a phone.", (),
         "calendar"),
    Deed("export", "Export", (), "Write a table of a kind or view, or the whole farm, to a file.", (),
         "export"),
    Deed("import", "Import", ("e",), "Take records from a table (CSV), line by line, with a dry run.",
         (), "import", ("herd", "partners")),
    Deed("demo", "Demo", (), "Make an invented farm that is alive today, and open it.", (), "demo"),
    Deed("play", "Play", (), "Play a story of two laptops, for real, step by step.", (), "play"),
    Deed("completion", "Complete", (), "Print what a shell needs to complete words.", (),
         "completion"),
    Deed("plain", "Lines", (), "Print a place of the dashboard as plain lines (--plain PLACE).",
         ()),
)  # fmt: skip

DEEDS = (*_WORK, *_RECORDING, *_MENDING, *_MOVING_ABOUT, *_ASKED_ONLY)

_BY_ID = {deed.id: deed for deed in DEEDS}
_BY_VERB = {deed.verb: deed for deed in DEEDS if deed.verb}


def deed(id: str) -> Deed:
    """The action of that id."""
    return _BY_ID[id]


def deed_of_verb(verb: str) -> Deed:
    """The action the command line calls ``verb``."""
    return _BY_VERB[verb]


def deeds_of(place: str) -> list[Deed]:
    """What the dashboard offers in a place, in the order of the table."""
    return [one for one in DEEDS if place in one.places]


def place_named(word: str) -> Place | None:
    """The place whose id, heading or digit is ``word``, in any case."""
    told = word.strip().casefold()
    return next((one for one in PLACES if told in (one.id, one.key)), None)


def printed_as(word: str) -> tuple[str, str] | None:
    """What ``--plain WORD`` prints: a place or one of `PRINTED`, and whose; None for neither."""
    head, _, whose = word.partition(":")
    place = place_named(head)
    if place is not None:
        return None if whose else (place.id, "")
    told = head.strip().casefold()
    for one in PRINTED:
        name, _, wants = one.partition(":")
        if name == told and bool(wants) == bool(whose.strip()):
            return name, whose.strip()
    return None


def all_printed() -> str:
    """Everything that can be printed as plain lines, for a sentence."""
    return ", ".join([*(place.id for place in PLACES), *PRINTED])
