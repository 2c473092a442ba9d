"""One entry of each verb that this version writes, built from fixed values.

``golden_1.txt`` beside this file holds their bytes for good; ``golden_0.txt`` those of the version before
it, which are still read. Run as a module, this prints the file of the present version: for a later
version, which gets a file of its own.
"""

from __future__ import annotations

from typing import Any

from herdsync.log.entry import NO_ID, Entry, pack
from tests.log.plain import key_of, written

HOUSE, BARN, RECOVERY = key_of("golden house"), key_of("golden barn"), key_of("golden recovery")
A, B, C = (bytes([place]) * 16 for place in (1, 2, 3))
CLOCK = 1_767_250_800_123


def entries() -> list[Entry]:
    """A farm's first entries: founding, admission, every act of a keeper, one from the barn, then what
    decides who may write."""
    house: list[Entry] = []

    def add(verb: str, kind: str, payload: dict[str, Any], **more: Any) -> Entry:
        farm = house[0].id if house else NO_ID
        previous = house[-1] if house else None
        salt = bytes([len(house)]) * 16
        house.append(
            written(HOUSE.public, previous, verb=verb, kind=kind, payload=payload, salt=salt,
                    farm=farm, sign=HOUSE.sign, clock=CLOCK + len(house), **more)
        )  # fmt: skip
        return house[-1]

    add("found", "membership", _founding(), flags=5)
    add("admit", "membership", _admitting(), flags=5)
    told = {"animal": A, "on": "2026-01-01T06:30:00+01:00", "milk_h": [96, 0, "h"], "again": True}
    dose = add("record", "dose", {"fields": told}, flags=1, subjects=[A], by="Jun", batch=B)
    claim = dose.record_id
    amended = {"milk_h": [{"milk_h": [-12, -1, "h"], "none": None}, [claim]]}
    add("amend", "dose", {"of": claim, "claims": amended, "because": "lähmt 🐐"}, subjects=[claim])
    back = {"stands": [{"stands": False}, [claim]]}
    add("retract", "dose", {"of": claim, "claims": back, "saw": [claim], "because": "a slip"})
    settled = {"of": claim, "claims": {"on": [{"on": "2026-01"}, [A, B]]}, "conflict": bytes(32)}
    add("resolve", "dose", settled, flags=3)
    add("resolve", "animal", {"conflict": bytes(range(32)), "because": "it is so"}, subjects=[A, B])
    add("same", "dose", {"a": A, "b": B, "cites": []}, subjects=[A, B])
    add("different", "dose", {"a": A, "b": B, "cites": [C], "undoes": C}, subjects=[A, B])
    keyed = {"key": "zone", "fields": {"key": "zone", "value": "UTC"}}
    barn = written(
        BARN.public, None, [house[-1]], verb="record", kind="setting", payload=keyed,
        farm=house[0].id, sign=BARN.sign, clock=-1, kind_version=65_535,
    )  # fmt: skip
    first = [*house, barn]
    for verb, payload in _decisions(claim):
        parents = [barn] if house[-1] in first else []
        add(verb, "membership", payload, flags=5, parents=parents)
    return [*first, *house[len(first) - 1 :]]


def _decisions(claim: bytes) -> list[tuple[str, dict[str, Any]]]:
    """A steward's acts and a keeper's word on entries, each with its payload."""
    return [
        ("role", {"key": BARN.public, "role": "helper", "because": "summer only"}),
        ("remove", {"key": BARN.public, "last": [A, B], "because": ""}),
        ("adopt", {"entries": [A], "because": "she did trim them"}),
        ("set-aside", {"entries": [claim, C], "because": "written twice"}),
        ("hand-over", {"key": RECOVERY.public, "because": "Oda moves away 🐐"}),
    ]


def _founding() -> dict[str, Any]:
    return {
        "farm": "Quillmoor Dairy",
        "keeper": "Oda",
        "device": "house",
        "seal": HOUSE.seal_public,
        "recovery": RECOVERY.public,
        "recovery_seal": RECOVERY.seal_public,
    }


def _admitting() -> dict[str, Any]:
    return {
        "key": BARN.public,
        "seal": BARN.seal_public,
        "keeper": "Ravi",
        "device": "barn",
        "role": "keeper",
        "request": b"request",
        "proof": BARN.sign(b"request"),
    }


def lines() -> list[str]:
    """Verb, id, header, body, signature and packed form of each entry, in hex."""
    return [
        " ".join(
            [entry.header.verb, entry.id.hex(), entry.header_bytes.hex(), entry.body_bytes.hex(),
             entry.signature.hex(), pack(entry).hex()]
        )
        for entry in entries()
    ]  # fmt: skip


if __name__ == "__main__":
    print("\n".join(lines()))
