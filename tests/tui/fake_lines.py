"""The lines a small farm made of answers is built from: animals, work, claims, all at one still moment."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from herdsync import answers

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
        "sex_now": "wether" if "wether" in more.get("state", ()) else sex,
    } | more  # fmt: skip
    return answers.HerdLine(
        id=id_of(name), name=name, sex=sex, born=day(-age), age_days=age, pen=pen, **told
    )


def claim(id: str, keeper: str, device: str, value: Any, shown: str = "") -> answers.ClaimLine:
    recorded = (NOW - timedelta(hours=20)).isoformat()
    return answers.ClaimLine(id, value, keeper, keeper, device, recorded, [], shown or str(value))
