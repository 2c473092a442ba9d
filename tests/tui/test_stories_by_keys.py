"""The farm's stories done in the dashboard by keys alone, on real farms; what holds is asked of the
command line, as when the stories are played there.
"""

from __future__ import annotations

import json
import shutil
from datetime import datetime
from pathlib import Path

import pytest

from herdsync.desk import Desk
from herdsync.farm import Farm
from herdsync.wall import Wall
from scenarios.reaching import reach_one, unmet
from scenarios.stage import GOOD_SIGNATURE, _filled, check_proof
from scenarios.stage import Stage as Scene
from scenarios.story import Step, Story, _read, story_named
from tests.tui.keyed import PLACE_OF, Hands, NotThere
from tests.tui.stage import Stage
from tui.app import Dashboard
from tui.farmhand import Farmhand

LOOKING = {*PLACE_OF, "verify"}
BEGINS_BY_KEYS = "two-laptops"
# What the dashboard says where the command line refuses.
REFUSED = {"resolved already": "resolved already", "disputed": "disputed, see Conflicts (6)"}


class Play:
    """One story: its laptops, and what was kept along the way."""

    def __init__(self, folder: Path, story: Story, monkeypatch: pytest.MonkeyPatch) -> None:
        self.scene = Scene(folder)
        self.story = story
        self.monkeypatch = monkeypatch
        self.when = ""

    async def step(self, step: Step) -> None:
        """One step: its acts by keys, its questions by the command line."""
        self.when = step.at or self.when
        if step.lines:
            await self._by_keys(step)
        for line in step.alike:
            words = [*self.scene.words_of(line), "--at", self.when, "--json"]
            outs = [self.scene.run(laptop.name, words) for laptop in self.story.laptop]
            assert [one.code for one in outs] == [0] * len(outs)
            assert len({one.out for one in outs}) == 1, line
        if step.proved:
            assert GOOD_SIGNATURE in check_proof(Path(self.scene.filled(step.proved)))

    async def _by_keys(self, step: Step) -> None:
        folder = self.scene.folder / step.on
        folder.mkdir(exist_ok=True)
        self.monkeypatch.setenv("HERDSYNC_KEYS", str(self.scene.folder / f"{step.on}-keys"))
        wall = Wall(datetime.fromisoformat(self.when))
        app = Dashboard(
            Farmhand(lambda: Farm.open(folder, wall, by=app.by)), wall, folder, desk=Desk()
        )
        async with app.run_test(size=(80, 24), notifications=True) as pilot:
            hands = Hands(Stage(app, pilot))
            await hands.stage.settle()
            if step.by:
                await hands.who(step.by)
            for line in step.lines:
                await self._line(step, line, hands)

    def typed(self, step: Step) -> None:
        """One step in the command line: how a farm began is done by keys in one story alone."""
        self.when = step.at or self.when
        for line in step.lines:
            self._asked(step, self.scene.words_of(line))

    async def _line(self, step: Step, line: str, hands: Hands) -> None:
        words = self.scene.words_of(line)
        if words[0] == "amend":
            words[1] = self._as_shown(step.on, words[1])
        if step.refused:
            await self._refused(step, words, hands)
            return
        told = await hands.do(words)
        if words[0] in LOOKING:
            self._asked(step, words)
        elif words[0] == "exchange" and step.expect:
            assert _expected(step, told) == [], told
        elif "code" in step.keep:
            self.scene.kept["code"] = told
        elif step.keep:
            newest = self._newest(step.on)
            self.scene.kept |= {
                name: newest[path] for name, path in step.keep.items() if path in newest
            }

    def _asked(self, step: Step, words: list[str]) -> None:
        outcome = self.scene.run(step.on, [*words, "--at", self.when, "--json"])
        assert outcome.code == 0, outcome.err
        answer = json.loads(outcome.out)
        self.scene.kept |= {name: str(reach_one(answer, path)) for name, path in step.keep.items()}
        missed = [unmet(answer, _filled(one, self.scene)) for one in step.expect]
        assert [said for said in missed if said] == []

    async def _refused(self, step: Step, words: list[str], hands: Hands) -> None:
        try:
            told = await hands.do(words)
        except NotThere as missing:
            told = str(missing)
        assert REFUSED[step.refused] in told

    def _as_shown(self, laptop: str, ref: str) -> str:
        """The id a record has on the screen: of records joined there is one; a name stays a name."""
        if not ref.islower():
            return ref
        with Farm.open(self.scene.folder / laptop, Wall(datetime.fromisoformat(self.when))) as farm:
            return farm.show(ref).id

    def _newest(self, laptop: str) -> dict[str, str]:
        with Farm.open(self.scene.folder / laptop, Wall(datetime.fromisoformat(self.when))) as farm:
            line = farm.trail_all(limit=1)[0]
        return {"id": line.record, "entry": line.entry}


def _expected(step: Step, told: str) -> list[str]:
    """What the exchange was to come to and did not say."""
    unsaid = []
    said = " ".join(told.split())
    for expect in step.expect:
        wanted = {
            "sent": f"{expect.equals} sent", "received": f"{expect.equals} received",
            "conflicts": f"{expect.equals} conflict", "refused": "Exchanged:",
        }[expect.at]  # fmt: skip
        none = expect.at == "conflicts" and expect.equals == 0
        if (wanted in said) == none:
            unsaid.append(wanted)
    return unsaid


@pytest.mark.parametrize("name", ["two-laptops", "hoof-conflict", "remote-barn", "audit"])
async def test_the_story_is_done_by_keys(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    story = story_named(name)
    if any(step.proved for step in story.step) and shutil.which("openssl") is None:
        pytest.skip("no openssl on this machine")
    play = Play(tmp_path, story, monkeypatch)
    before = 0 if name == BEGINS_BY_KEYS else len(story.step) - len(_read(name).step)
    for step in story.step[:before]:
        play.typed(step)
    for step in story.step[before:]:
        await play.step(step)
