"""A small farm made of answers alone, for quick tests of screens: same signatures, no engine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

from herdsync import answers
from herdsync.faults import Refused
from herdsync.kinds import CATALOGUE

NOW = datetime(2026, 3, 14, 6, 12, tzinfo=UTC)
DOES = (
    "Agate", "Opal", "Mica", "Beryl", "Garnet", "Marl", "Slate", "Chert", "Jade", "Amber", "Pearl",
    "Coral",
)  # fmt: skip
KIDS = ("Onyx", "Topaz")
CAUTION = "Heat the iron and prove it on wood; keep each touch short. The veterinarian comes first."


class StillWall:
    """A wall whose clock stands still."""

    by_hand = False

    def now(self) -> datetime:
        return NOW

    def entropy(self, count: int) -> bytes:
        return bytes(range(count))


def day(days: int) -> str:
    return (NOW + timedelta(days=days)).date().isoformat()


def due_line(id: str, name: str, pen: str, item: str, kind: str, **more: Any) -> answers.DueLine:
    told: dict[str, Any] = {
        "state": "due", "opens": day(-3), "best": day(0), "closes": day(4), "due": day(0),
        "reason": "last done long ago", "work": item.replace("-", " "), "subject": id_of(name),
        "animal": id_of(name),
    } | more  # fmt: skip
    return answers.DueLine(id=id, name=name, pen=pen, item=item, kind=kind, **told)


def id_of(name: str) -> str:
    return "id-" + name.casefold()


def herd_line(name: str, sex: str, age: int, pen: str, **more: Any) -> answers.HerdLine:
    told: dict[str, Any] = {
        "standing": "here", "horns": "disbudded", "tattoo_right": "QMR", "tattoo_left": "P1",
        "dam": "", "sire": "", "holds": [], "disputed": False,
    } | more  # fmt: skip
    return answers.HerdLine(
        id=id_of(name), name=name, sex=sex, born=day(-age), age_days=age, pen=pen, **told
    )


def claim(id: str, keeper: str, device: str, value: Any, shown: str = "") -> answers.ClaimLine:
    recorded = (NOW - timedelta(hours=20)).isoformat()
    return answers.ClaimLine(id, value, keeper, keeper, device, recorded, [], shown or str(value))


class FakeFarm:
    """Answers as Farm does; what is written is kept in ``written``."""

    def __init__(self, name: str = "Quillmoor Dairy") -> None:
        self.name = name
        self.keeper, self.device_name, self.read_only, self.prefix = "Oda", "house", "", "QMR"
        self.zone = ZoneInfo("UTC")
        self.written: list[tuple[Any, ...]] = []
        self.refuses = ""
        self.fails = False
        self.lines = self._due()
        self.animals = self._animals()
        self.disputes = self._conflicts()
        self.closed = False
        self.judged = False

    def _due(self) -> list[answers.DueLine]:
        bench = {"caution": CAUTION, "state": "closing", "closes": day(1)}
        lines = [
            due_line("w0", "Doe barn", "Doe barn", "bedding", "chore-done", animal="",
                     preset={"item": "bedding"}, state="open"),
        ]  # fmt: skip
        lines += [
            due_line(f"w-{name}", name, "Doe barn", "hoof-trim", "hoof-trim", state="late",
                     closes=day(-2))
            for name in DOES
        ]  # fmt: skip
        lines.append(due_line("w1", "Onyx", "Kid pen", "disbudding", "disbudding", **bench))
        lines.append(due_line("w2", "Topaz", "Kid pen", "weaning", "weaning"))
        return lines

    def _animals(self) -> list[answers.HerdLine]:
        held = ["milk not for sale", "meat not for sale"]
        does = [
            herd_line(name, "doe", 900, "Doe barn", holds=held if name == "Opal" else [])
            for name in DOES
        ]
        return does + [herd_line(name, "buck", 6, "Kid pen", tattoo_left="") for name in KIDS]

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

    def __enter__(self) -> FakeFarm:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        self.closed = True

    def moment(self) -> datetime:
        return NOW

    def changed(self) -> bool:
        return False

    def _check(self) -> None:
        if self.fails:
            raise ValueError("a projection broke")

    def due(self, *, every: bool = False, **_: Any) -> list[answers.DueLine]:
        self._check()
        return [line for line in self.lines if every or line.state != "ahead"]

    def herd(self, *, every: bool = False) -> list[answers.HerdLine]:
        return self.animals

    def timers(self) -> list[answers.Timer]:
        ends = [
            (2, "Opal", "milk clear"),
            (30, "Onyx", "recheck of disbudding"),
            (50, "Opal", "meat clear"),
        ]
        return [
            answers.Timer(
                id_of(name), name, what, day(-1), (NOW + timedelta(hours=hours)).isoformat(),
                hours * 3600, False, ["rec-1"],
            )
            for hours, name, what in ends
        ]  # fmt: skip

    def holds(self, ref: str) -> list[answers.Hold]:
        return self.show(ref).holds

    def pens(self) -> list[str]:
        return ["Doe barn", "Kid pen"]

    def names(self, kind: str) -> list[str]:
        return {"animal": [*DOES, *KIDS], "pen": self.pens(), "product": ["Quillwort drench"]}.get(
            kind, []
        )

    def conflicts(self, *, every: bool = False) -> list[answers.ConflictLine]:
        return self.disputes

    def show(self, ref: str) -> answers.RecordAnswer:
        self._check()
        animal = next((one for one in self.animals if one.id == ref), None)
        if animal is None:
            told = {"hind_left": "nicked", "on": day(-1)}
            fields = {
                name: answers.FieldAnswer(
                    text, name == "hind_left", [claim("c", "Oda", "house", text)], text
                )
                for name, text in told.items()
            }
            return answers.RecordAnswer(ref, "hoof-trim", fields, True, "hoof trim of Agate", [ref])
        fields = {
            "name": answers.FieldAnswer(
                animal.name, False, [claim("n", "Oda", "house", animal.name)], animal.name
            ),
            "born": answers.FieldAnswer(
                animal.born, False, [claim("b", "Oda", "house", animal.born)], animal.born
            ),
        }
        holds = [
            answers.Hold(one, day(2), "dose of Quillwort drench", ["rec-1"]) for one in animal.holds
        ]
        acts = [answers.ActLine("rec-1", "hoof-trim", "hoof trim", day(-60), "hind left ok", True)]
        due = [line for line in self.lines if line.animal == ref]
        return answers.RecordAnswer(
            ref, "animal", fields, True, animal.name, [ref], animal, due, holds, [], acts
        )

    def find(self, text: str) -> list[answers.Found]:
        return [
            answers.Found(one.id, "animal", one.name, one.name)
            for one in self.animals
            if text.casefold() in one.name.casefold()
        ]

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

    def devices(self) -> list[answers.DeviceLine]:
        return [
            answers.DeviceLine("house", "Oda", "keeper", True, True, 12, NOW.isoformat(), "key-1"),
            answers.DeviceLine("barn", "Ravi", "keeper", False, False, 9, NOW.isoformat(), "key-2"),
        ]

    def settings(self) -> list[answers.SettingLine]:
        return [answers.SettingLine("hoof-days", "56", "Days from one hoof trim to the next.")]

    def plan(self) -> list[answers.PlanLine]:
        return [
            answers.PlanLine("disbudding", "Disbud the kid", "days 4 to 14", "a handbook", CAUTION)
        ]

    def kids(self) -> list[Any]:
        task = SimpleNamespace(
            item="disbudding", work="Disbud", state="closing", opens=day(-2), closes=day(1), done="",
            reason="",
        )  # fmt: skip
        return [
            SimpleNamespace(
                id=id_of(name), name=name, sex="buck", born=day(-6), age_days=6, dam="Agate",
                tasks=[task], weight_kg=4.1, gain_g_per_day=None, gain_says="", decision=["law: ask"],
            )
            for name in KIDS
        ]  # fmt: skip

    def exposures(self) -> list[Any]:
        return [
            SimpleNamespace(
                doe=id_of("Marl"), doe_name="Marl", male_name="Flint", pen="Doe barn", days=3,
                sure=True, window=[day(140), day(150)], says="shared a pen 3 days", relationship=0.25,
            )
        ]  # fmt: skip

    def milk(self, days: int = 7) -> list[Any]:
        return [
            SimpleNamespace(
                animal=id_of(name), name=name, milkings=8, milk_kg=10.5, sold_kg=9.0, held_kg=1.5,
                in_milk=True, days_in_milk=80, disputed=False,
            )
            for name in ("Agate", "Opal")
        ]  # fmt: skip

    def verify(self) -> answers.Verified:
        return answers.Verified(21, 2, 18, [], [], 0)

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
        return answers.Recorded(id="rec-9", kind=kind)

    def record_each(
        self, kind: str, tellings: Sequence[Mapping[str, str]], salt: bytes | None = None
    ) -> answers.Recorded:
        subject = CATALOGUE[kind].subject or ""
        for told in tellings:
            pairs = {name: text for name, text in told.items() if name != subject}
            whom = [told[subject]] if subject in told else []
            self.record(kind, pairs, whom, salt)
        return answers.Recorded(id="rec-9", kind=kind)

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

    def exchange(self, carrier: str) -> answers.Exchanged:
        self.written.append(("exchange", carrier))
        return answers.Exchanged(2, 3, 0, [], 1)

    def unvouched(self) -> list[answers.TrailLine]:
        return [] if self.judged else [*self.trail_all()]

    def adopt(self, entries: Sequence[str], because: str = "") -> answers.Written:
        self.judged = True
        self.written.append(("adopt", list(entries), because))
        return answers.Written(entries[0])

    def set_aside(self, entries: Sequence[str], because: str) -> answers.Written:
        if not because:
            raise Refused("Entries are set aside only with a reason.", "Say why.")
        self.judged = True
        self.written.append(("set-aside", list(entries), because))
        return answers.Written(entries[0])

    def remove(self, device: str, because: str = "", last: Sequence[str] = ()) -> answers.Written:
        self.written.append(("remove", device, because))
        return answers.Written(device)

    def rank(self, device: str, role: str, because: str = "") -> answers.Written:
        self.written.append(("rank", device, role, because))
        return answers.Written(device)

    def hand_over(self, device: str, because: str = "") -> answers.Written:
        self.written.append(("hand-over", device, because))
        return answers.Written(device)

    def rehearse(self, words: str) -> answers.Rehearsed:
        if len(words.split()) != 24:
            raise Refused("These are not 24 words.", "Read them off the sheet.")
        return answers.Rehearsed("farm", self.name)

    def backup(self, path: Path) -> answers.Backed:
        return answers.Backed(str(path), 21)

    def kidding(self) -> list[Any]:
        return [
            SimpleNamespace(
                doe=id_of("Mica"), name="Mica", due=day(16), window=[day(11), day(21)],
                heat_return=[], check=[day(-100)], booster=[day(-19), day(-12)], dry_off=day(-44),
                says="mated, found bred since",
            )
        ]  # fmt: skip
