"""Laptops, exchange, settings and copies of the farm made of answers."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from threading import Thread
from types import SimpleNamespace

from herdsync import answers, meetings
from herdsync.faults import Refused
from tests.tui.fake_acts import Acts
from tests.tui.fake_lines import CAUTION, NOW


class Laptops(Acts):
    """Who takes part."""

    judged = False
    only_here = 3
    answers_on = 0
    exchanged = meetings.Exchanged(2, 3, 0, [], 1)

    def devices(self) -> list[answers.DeviceLine]:
        return [
            answers.DeviceLine(
                "house", "Oda", "keeper", True, True, 12, NOW.isoformat(), "key-1",
                only_here=self.only_here, left=min(2, self.only_here),
            ),
            answers.DeviceLine(
                "barn", "Ravi", "keeper", False, False, 9, NOW.isoformat(), "key-2",
                heard=NOW.isoformat(), lacks=self.only_here, address="192.0.2.7:47100",
            ),
        ]  # fmt: skip

    def exchange(self, carrier: str) -> meetings.Exchanged:
        self.written.append(("exchange", carrier))
        return self.exchanged

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

    def turned_away(self) -> list[meetings.Turned]:
        return []

    def backup(self, path: Path) -> answers.Backed:
        return answers.Backed(str(path), 21)

    def settings(self) -> list[answers.SettingLine]:
        return [answers.SettingLine("hoof-days", "56", "Days from one hoof trim to the next.")]

    def plan(self) -> list[answers.PlanLine]:
        return [
            answers.PlanLine("disbudding", "Disbud the kid", "days 4 to 14", "a handbook", CAUTION)
        ]

    def verify(self) -> answers.Verified:
        return answers.Verified(21, 2, 18, [], [], 0)

    @contextmanager
    def listening(
        self, port: int, tell: Callable[[meetings.Visited], None], host: str = ""
    ) -> Iterator[int]:
        self.answers_on = port
        moved = meetings.Exchanged(1, 4, 0, [], 0)
        Thread(target=tell, args=(meetings.Visited("Ravi's laptop barn", "", moved),)).start()
        try:
            yield port
        finally:
            self.answers_on = 0

    def papers(self, paper: str, animals: Sequence[str], **more: object) -> list[SimpleNamespace]:
        self.written.append(("papers", paper, list(animals), more))
        return [
            SimpleNamespace(
                title=f"Sheet of {one}", fit=one != "id-opal", blocks=["milk not for sale"], marks=[],
                files=[f"{more['out']}/{one}.txt"],
            )
            for one in animals
        ]  # fmt: skip
