"""Acts and accounts of the farm made of answers: what is written is kept, nothing is signed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from herdsync import answers
from herdsync.faults import Refused
from herdsync.kinds import CATALOGUE
from tests.tui.fake_barn import Barn
from tests.tui.fake_lines import NOW, claim, id_of


class Acts(Barn):
    """Conflicts, trail and every act of a keeper."""

    def __init__(self, name: str = "Quillmoor Dairy") -> None:
        super().__init__(name)
        self.disputes = self._conflicts()

    def _conflicts(self) -> list[answers.ConflictLine]:
        feet = [
            claim("claim-a", "Oda", "house", "soft"),
            claim("claim-b", "Ravi", "barn", "nicked"),
        ]
        two = [
            claim("rec-1", "Oda", "house", "rec-1", "ok"),
            claim("rec-2", "Ravi", "barn", "rec-2", "ok"),
        ]
        said: dict[str, Any] = {"record_kind": "hoof-trim", "after": "", "open": True}
        return [
            answers.ConflictLine(
                "conflict-1", "field", "rec-1", "hind_left", feet, says="Two claims stand.",
                mend="Take one.", records=["rec-1"], animal=id_of("Agate"), name="Agate", **said,
            ),
            answers.ConflictLine(
                "conflict-2", "pair", "rec-1", "pair", two, says="These may be one and the same.",
                mend="Say which.", records=["rec-1", "rec-2"], animal=id_of("Beryl"), name="Beryl",
                **said,
            ),
            answers.ConflictLine(
                "conflict-3", "rule", "rec-1", "one mark on two animals", two, says="P1 stands twice.",
                mend="Amend one.", records=["rec-1"], animal=id_of("Mica"), name="Mica", **said,
            ),
        ]  # fmt: skip

    def conflicts(self, *, every: bool = False) -> list[answers.ConflictLine]:
        return self.disputes

    def trail(self, ref: str) -> list[answers.TrailLine]:
        return self.trail_all()

    def trail_all(self, limit: int = 200) -> list[answers.TrailLine]:
        return [
            answers.TrailLine(
                "entry1", verb, "hoof-trim", "Ravi", "Jun", "barn", NOW.isoformat(), 7, "hind_left",
                ["soft"], "nicked", "looked again", "good", "rec-1", "hoof trim of Agate",
            )
            for verb in ("amend",)
        ]  # fmt: skip

    def record(
        self,
        kind: str,
        pairs: Mapping[str, str],
        animals: Sequence[str] = (),
        salt: bytes | None = None,
    ) -> answers.Recorded:
        if self.refuses:
            raise Refused(self.refuses, "Write it another way.")
        self.written.append((kind, dict(pairs), list(animals)))
        self.lines = [
            line
            for line in self.lines
            if line.kind != kind or (line.animal or line.subject) not in animals
        ]
        return answers.Recorded(id="rec-9", kind=kind, warnings=self.warned)

    def record_each(
        self, kind: str, tellings: Sequence[Mapping[str, str]], salt: bytes | None = None
    ) -> answers.Recorded:
        subject = CATALOGUE[kind].subject or ""
        for told in tellings:
            pairs = {name: text for name, text in told.items() if name != subject}
            whom = [told[subject]] if subject in told else []
            self.record(kind, pairs, whom, salt)
        return answers.Recorded(id="rec-9", kind=kind, warnings=self.warned)

    def amend(
        self, ref: str, changes: Sequence[str], because: str = "", shown: Sequence[str] = ()
    ) -> answers.Written:
        self.written.append(("amend", ref, list(changes), because, list(shown)))
        return answers.Written(ref)

    def retract(self, ref: str, because: str) -> answers.Written:
        self.written.append(("retract", ref, because))
        return answers.Written(ref)

    def undo(self) -> answers.Written:
        self.written.append(("undo",))
        return answers.Written("rec-1")

    def resolve(self, conflict: str, **how: Any) -> answers.Written:
        self.written.append(("resolve", conflict, how))
        self.disputes = [one for one in self.disputes if one.id != conflict]
        return answers.Written("rec-1")

    def consequences(self, conflict: str, *, take: str = "", same: bool = False) -> list[str]:
        if conflict == "conflict-2":
            return ["Beryl: 'hoof trim' would be due, due 2026-05-01."] if same else []
        return [f"Agate: look again, by {take}."] if take == "claim-b" else []

    def same(self, a: str, b: str, because: str = "") -> answers.Written:
        self.written.append(("same", a, b))
        return answers.Written(a)

    def different(self, a: str, b: str, because: str = "") -> answers.Written:
        self.written.append(("different", a, b))
        return answers.Written(a)

    def skip(self, work: str, because: str, about: str = "") -> answers.Recorded:
        self.written.append(("skip", work, because, about))
        return answers.Recorded(id="s")

    def postpone(self, work: str, until: str, because: str, about: str = "") -> answers.Recorded:
        self.written.append(("postpone", work, until, because, about))
        return answers.Recorded(id="p")

    def set(self, key: str, value: str, because: str = "") -> answers.Recorded:
        self.written.append(("set", key, value, because))
        return answers.Recorded(id="k")
