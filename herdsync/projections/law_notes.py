"""What the law of the farm's country says beside a piece of work; shown, never a refusal."""

from __future__ import annotations

from herdsync.projections.goat import Goat
from herdsync.projections.look import Look
from herdsync.trade.castration import METHODS
from herdsync.trade.law import LegalNote, castration_law, disbudding_law

DISBUDDING = "disbudding"
CASTRATION = "castration"


def law_note(law: str, goat: Goat | None, look: Look) -> str:
    """The words of the law: a table's where ``law`` names one, else ``law`` itself."""
    if law == DISBUDDING:
        return _words(disbudding_law(look.settings.country))
    if law == CASTRATION and goat is not None:
        return castration_note(goat)
    return "" if law == CASTRATION else law


def castration_note(goat: Goat) -> str:
    """What the law says of each method at an animal's age today."""
    if goat.born is None or goat.unborn:
        return "without a birth date nobody can say what the law allows"
    notes = [
        (method, castration_law(goat.look.settings.country, method, goat.born, goat.look.today))
        for method in METHODS
    ]
    if len({note for _, note in notes}) == 1:
        return _words(notes[0][1])
    return "; ".join(f"{method}: {_words(note)}" for method, note in notes)


def _words(note: LegalNote) -> str:
    source = f" ({note.source})" if note.source else ""
    return f"{note.standing}: {note.text}{source}"
