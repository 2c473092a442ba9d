"""Text of every class of code points, in every text a partner's program can sign, through every verb.

What is signed is taken as it is; what reaches a terminal, a file's name or a calendar is harmless.
``HERDSYNC_PROOF_EXAMPLES`` set: all classes; unset: what acts or hides, and what marks up.
Classes: the Unicode Standard's general categories; C0, C1: ISO/IEC 6429.
"""

from __future__ import annotations

import os
import sys
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from herdsync.cli.command import FILES
from herdsync.deeds import PLACES
from herdsync.farm import Farm
from herdsync.faults import BadBytes
from herdsync.kinds import CATALOGUE
from herdsync.kinds.field import Field
from herdsync.kinds.forms import Ref
from herdsync.kinds.ids import text_id
from herdsync.log.entry import AUTHORITY, CRITICAL
from herdsync.log.signing import SigningKey
from herdsync.log.writer import Act
from herdsync.store.store import Stamp
from herdsync.wall import Wall
from tests.cli.laptops import Laptops

PER_CLASS, PIECE = 3, 56
ACTING = [
    *range(1, 0x20), *range(0x7F, 0xA0), 0x00AD, 0x061C, *range(0x200B, 0x2010),
    *range(0x2028, 0x202F), *range(0x2060, 0x2070), 0xFEFF, 0xFFF9, 0xFFFB, 0xE0001, 0x3164,
]  # fmt: skip
UNITS = (
    "kg",
    "h",
    "d",
    "mL",
    "g",
    "cm",
    "%",
    "Cel",
    "C",
    "pt",
    "mg",
    "min",
    "mg/mL",
    "x",
    "epg",
    "1",
)


def pieces() -> list[str]:
    """All classes of code points, in texts short enough for a name."""
    found: dict[str, list[int]] = {}
    for code in range(1, sys.maxunicode + 1):
        some = found.setdefault(unicodedata.category(chr(code)), [])
        if len(some) < PER_CLASS and not 0xD800 <= code < 0xE000:
            some.append(code)
    codes = [*ACTING, *(code for some in found.values() for code in some)]
    texts = ["".join(map(chr, codes[at : at + PIECE])) for at in range(0, len(codes), PIECE)]
    return [*texts, "\x1b]52;c;eA==\x07[/b] a" + "\u0301" * 30]


class Signed:
    """A farm whose every text is ``text``, as a partner without manners may sign it."""

    def __init__(self, laptops: Laptops, text: str) -> None:
        self.text = text
        self.ids: dict[str, list[bytes]] = {}
        self.laptops = laptops
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("HERDSYNC_KEYS", str(laptops.stage.folder / "house-keys"))
            wall = Wall()
            with Farm.open(laptops.stage.folder / "house", wall) as farm:
                stamp = Stamp(text[:80], 1_767_250_800_000, False, wall.entropy)
                with farm._store.writing(stamp) as writing:
                    for act in self._acts():
                        entry = writing.append(act)
                        if act.verb == "record":
                            self.ids.setdefault(act.kind, []).append(entry.record_id)

    def _acts(self) -> Iterator[Act]:
        for sex in ("doe", "buck", "doe"):
            goat = {"name": self.text[:60], "sex": sex, "born": "2024-03-01", "standing": "here"}
            yield Act("record", "animal", {"fields": goat})
        for name, kind in CATALOGUE.items():
            values = {one.name: self._value(one) for one in kind.fields.values()}
            told: dict[str, Any] = {one: v for one, v in values.items() if v is not None}
            if kind.keyed and name != "setting":
                continue
            if name == "setting":
                told["key"] = "prefix"
            payload: dict[str, Any] = {"fields": told}
            if kind.keyed:
                payload["key"] = told[kind.keyed]
            yield Act("record", name, payload, kind.version, CRITICAL if kind.critical else 0)
        for id in self.ids["animal"][:2]:
            told = {
                "name": [{"name": self.text[1:60]}, []],
                self.text[:20]: [{self.text[:20]: 1}, []],
            }
            yield Act("amend", "animal", {"of": id, "claims": told, "because": self.text})
        yield Act("record", "new-kind", {"fields": {self.text[:30]: self.text}}, 1, CRITICAL,
                  frozenset(self.ids["animal"]))  # fmt: skip
        key = SigningKey(bytes(31) + b"\7", bytes(31) + b"\7")
        let_in = {"key": key.public, "seal": key.seal_public, "keeper": self.text[:80],
                  "device": self.text[:80], "role": "keeper", "request": b"", "proof": bytes(64)}  # fmt: skip
        yield Act("admit", "membership", let_in, flags=AUTHORITY)

    def _value(self, field: Field) -> Any:
        """The first value that the field's form takes, the hostile text first."""
        if isinstance(field.form, Ref) and not field.many:
            return self.ids.get(field.form.kind, self.ids["animal"])[0]
        quantities = [[size, 0, unit] for unit in UNITS for size in (20, 3, 1)]
        words = ("done", "clean", "sold", "ok", "fecal-egg", "CAE", "negative", "bred", "x", "doe")
        told: list[Any] = [self.text, self.text[:40], "2026-01-02", *words, 2, 1, *quantities]
        told += [[self.text[:40]], [], self.ids["animal"][:1], self.ids["animal"][0], True, "03-01"]
        for value in told:
            try:
                field.form.check(value)
            except BadBytes:
                continue
            return value
        assert not field.required, field.name
        return None

    def ref(self, kind: str) -> str:
        return text_id(self.ids[kind][0])


def typed(farm: Signed, folder: Path) -> dict[str, list[list[str]]]:
    """Command lines for every verb; what it refuses is shown as well."""
    doe, buck = (text_id(one) for one in farm.ids["animal"][:2])
    text, out = farm.text.replace("\0", ""), str(folder / "out")
    every = [["show", text_id(one)] for ids in farm.ids.values() for one in ids]
    return {
        "found": [["found", text, "--keeper", text, "--device", text]],
        "join": [["join", text, "--keeper", text, "--device", text]],
        "admit": [["admit", farm.laptops.stick], ["admit", text, "--code", text]],
        "devices": [["devices"]],
        "settings": [["settings"], ["settings", text, text]],
        "due": [["due", "--all"], ["due", "--days", "400"], ["due", "--pen", text]],
        "timers": [["timers"]],
        "record": [["record", text, f"name={text}"], ["record", "animal", f"{text}=x"],
                   ["record", "note", f"text={text}"]],
        "skip": [["skip", text, "--because", text]],
        "postpone": [["postpone", text, "--until", text, "--because", text]],
        "herd": [["herd", "--all"]],
        "show": [*every, ["show", text]],
        "find": [["find", text[:4]], ["find", "a"]],
        "holds": [["holds"], ["holds", doe]],
        "medicine": [["medicine"]],
        "eggs": [["eggs"], ["eggs", doe]],
        "screening": [["screening"]],
        "bucks": [["bucks", doe]],
        "kidding": [["kidding"]],
        "exposures": [["exposures"]],
        "kids": [["kids"]],
        "mark": [["mark"], ["mark", doe]],
        "milk": [["milk"], ["milk", doe]],
        "amend": [["amend", doe, f"breed={text}"], ["amend", text, text]],
        "retract": [["retract", text, "--because", text]],
        "undo": [["undo"]],
        "conflicts": [["conflicts", "--all"]],
        "resolve": [["resolve", text, "--value", text]],
        "same": [["same", doe, text], ["same", doe, farm.ref("pen")]],
        "different": [["different", text, doe]],
        "exchange": [["exchange", farm.laptops.stick], ["exchange", text]],
        "watch": [["watch", f"--{text}", text]],
        "backup": [["backup", out + text]],
        "restore": [["restore", text]],
        "remove": [["remove", text]],
        "role": [["role", text, text]],
        "hand-over": [["hand-over", text]],
        "unvouched": [["unvouched"]],
        "adopt": [["adopt", text]],
        "set-aside": [["set-aside", text, "--because", text]],
        "rehearse": [["rehearse", "--words", text]],
        "recover": [["recover", text, "--keeper", text, "--device", text, "--words", text]],
        "trail": [["trail", doe], ["trail", buck], ["trail", text]],
        "proof": [["proof", doe, "--out", out + "-proof"], ["proof", buck, "--out", out + text]],
        "verify": [["verify"]],
        "papers": [["papers"], ["papers", "sale", doe, "--out", out, "--no-pdf", "--buyer", text],
                   ["papers", "sale", buck, "--out", out + text, "--no-pdf"], ["papers", text]],
        "calendar": [["calendar", out + ".ics", "--days", "300"], ["calendar", out + text]],
        "export": [["export", "animal", out + ".csv"], ["export", "animal", out + text + "2"],
                   ["export", text, text]],
        "import": [["import", out + ".csv", "--kind", "animal"], ["import", text, "--kind", text]],
        "dose": [["dose", "--animal", doe, "--product", farm.ref("product")], ["dose", "--animal", text]],
        "match": [["match", doe, buck], ["match", text, doe]],
        "ration": [["ration", text], ["ration", "--ration", farm.ref("ration")]],
        "kinds": [["kinds"], ["kinds", text]],
        "plan": [["plan"]],
        "demo": [["demo", out + text + "3", "--no-open"]],
        "play": [["play", text]],
        "completion": [["completion", text]],
        "": [["--plain", place.id] for place in PLACES] + [["--plain", text], [text]],
    }  # fmt: skip


def harmless(told: str) -> bool:
    """No letter of it acts on a terminal or hides in it; line ends alone part its lines."""
    return all(
        letter == "\n"
        or unicodedata.category(letter) not in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")
        for letter in told
    )


TEXTS = pieces() if "HERDSYNC_PROOF_EXAMPLES" in os.environ else [*pieces()[:2], pieces()[-1]]


@pytest.mark.parametrize("text", TEXTS, ids=lambda text: f"U+{ord(text[0]):04X}")
def test_no_text_acts_on_a_terminal(text: str, tmp_path: Path) -> None:
    laptops = Laptops.beside(tmp_path)
    laptops.found()
    farm = Signed(laptops, text)
    lines = typed(farm, tmp_path)
    assert set(lines) - {""} == set(FILES)
    for words in (one for some in lines.values() for one in some):
        done = laptops.type("house", *words)
        assert harmless(done.out + done.err), (words, done)
        assert done.code in (0, 1, 2), (words, done)
    for path in [*tmp_path.glob("out/*"), *Path(laptops.stick).iterdir(), tmp_path / "out.ics"]:
        assert harmless(path.name), path
        if path.suffix in (".ics", ".txt"):
            assert harmless(path.read_text().replace("\r\n", "\n").replace("\t", " ")), path
