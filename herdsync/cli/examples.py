"""What may be typed, verb by verb: lines that a keeper can take over and that run on the invented farm.

Words of stick and laptops, and ids as a keeper would read them off a list, are those of an example. Must
not know how a verb reads them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

EXAMPLES: Mapping[str, Sequence[str]] = {
    "found": ('found "Quillmoor Dairy" --keeper Oda --device house --prefix QMR --zone Europe/Berlin',),
    "join": (
        "join /media/stick --keeper Ravi --device barn",
        "join 192.168.1.20:47100 --keeper Ravi --device barn",
    ),
    "admit": (
        "admit /media/stick",
        "admit /media/stick --code GV8W-NZ2P-N82J-V5QF",
        "admit --code GV8W-NZ2P-N82J-V5QF --check 482913",
    ),
    "devices": ("devices",),
    "settings": ("settings", "settings zone Europe/Berlin --because 'where the farm is'"),
    "due": ("due", "due --animal Agate --days 14", "due --pen 'North pen'"),
    "timers": ("timers",),
    "record": (
        "record weighing animal=Shale weight_kg=8lb",
        "record hoof-trim front_left=ok front_right=overgrown --for Agate --for Opal",
        "record dose animal=Opal product='Quillwort drench' amount_ml=8.5 route=by-mouth",
        "record leaving animal=Shale how=sold to='Ida Fell, Low Quarry'",
    ),
    "skip": ("skip ctymttsz3aqf --because 'done by the neighbour'",),
    "postpone": ("postpone ctymttsz3aqf --until 2026-12-05 --because 'hard frost'",),
    "herd": ("herd", "herd --all"),
    "show": ("show Agate",),
    "find": ("find drench",),
    "holds": ("holds", "holds Opal"),
    "medicine": ("medicine",),
    "eggs": ("eggs", "eggs Opal"),
    "screening": ("screening",),
    "bucks": ("bucks Agate",),
    "kidding": ("kidding",),
    "exposures": ("exposures",),
    "kids": ("kids",),
    "mark": ("mark Jasper",),
    "milk": ("milk", "milk Agate"),
    "amend": (
        "amend Agate registry_no=R-1204 --because 'from her certificate'",
        "amend Agate colour=",
    ),
    "retract": ("retract 7dkq2xw5 --because 'the wrong goat'",),
    "undo": ("undo",),
    "conflicts": ("conflicts", "conflicts --all"),
    "resolve": (
        "resolve 5f2krqxa --take 8mqd4vb2",
        "resolve 5f2krqxa --value ok --because 'looked again together'",
    ),
    "same": ("same 7dkq2xw5 q3vn6zta",),
    "different": ("different 7dkq2xw5 q3vn6zta --because 'two trims, two days'",),
    "exchange": (
        "exchange /media/stick",
        "exchange 192.168.1.20:47100",
        "exchange sftp://you@depot.example/herd",
    ),
    "watch": ("watch /media/stick", "watch --listen 47100"),
    "backup": ("backup farm-backup.db",),
    "restore": ("restore farm-backup.db --farm restored",),
    "remove": ("remove barn --because 'lost in the wood'",),
    "role": ("role barn helper",),
    "hand-over": ("hand-over barn --because 'Oda leaves'",),
    "unvouched": ("unvouched",),
    "adopt": ("adopt q3vn6zta --because 'seen with my own eyes'",),
    "set-aside": ("set-aside q3vn6zta --because 'written by a thief'",),
    "rehearse": ("rehearse", "rehearse --words @words.txt"),
    "recover": ("recover /media/stick --keeper Oda --device kitchen --remove house",),
    "trail": ("trail Agate",),
    "proof": ("proof Agate --out proof.txt", "proof --check agate/sale-sheet-agate-proof.txt"),
    "verify": ("verify",),
    "papers": (
        "papers",
        "papers sale Mica Shale --buyer 'Ida Fell' --out sold",
        "papers treatments --from 2026-01-01 --out vet",
        "papers history Opal",
    ),
    "calendar": ("calendar farm.ics", "calendar farm.ics --days 14"),
    "export": (
        "export list",
        "export weighing weights.csv",
        "export all tables",
        "export ade animals.json",
        "export farm farm.jsonl",
        "export farm spring.jsonl --as-of 2026-03-31",
    ),
    "import": (
        "import notebook.csv --kind weighing --dry-run",
        "import herd.csv --kind animal --dates dmy --add-parents",
        "import weights.csv --kind weighing --unit weight_kg=lb --refused refused.csv",
        "import animals.json --kind ade",
        "import farm.jsonl",
    ),
    "dose": (
        "dose --animal Agate --rate 5 --strength 50",
        "dose --animal Agate --rate 5 --strength 50 --step 0.5",
    ),
    "match": ("match Agate Flint --on 2026-12-01",),
    "ration": ("ration --ration Milkers", "ration winter.toml"),
    "kinds": ("kinds", "kinds dose"),
    "plan": ("plan", "plan --preview hoof-trim every_days=42"),
    "demo": ("demo", "demo demo-farm --no-open"),
    "play": ("play", "play hoof-conflict"),
    "completion": ("completion bash",),
}  # fmt: skip
