"""Tables and the whole farm as open text: what goes out comes back, and nothing secret goes out."""

from __future__ import annotations

import base64
import csv
import json
from pathlib import Path

import pytest

from herdsync.farm import Farm
from herdsync.faults import Refused
from herdsync.founding import unfold
from herdsync.store.keyring import secret_of
from herdsync.wall import Wall
from tests.cli.laptops import Laptops
from tests.papers.conftest import AT

READ = (("herd", "--all"), ("due", "--all"), ("conflicts", "--all"), ("timers",), ("plan",),
        ("show", "Agate"), ("trail", "Agate"), ("settings",))  # fmt: skip


def fill(farm: Farm) -> None:
    farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2021-03"})
    farm.record(
        "animal", {"name": '=HYPERLINK("http://x","y")', "sex": "buck", "born": "2020-01-01"}
    )
    farm.record("weighing", {"animal": "Agate", "on": "2026-05-01", "weight_kg": "120.5 lb"})
    farm.record(
        "note", {"about": "Agate", "on": "2026-05-01", "text": 'one\ntwo, "three" ~~ \u202eend'}
    )


def rows(file: Path) -> list[dict[str, str]]:
    with file.open(newline="", encoding="utf-8") as opened:
        return list(csv.DictReader(opened))


def test_a_table_opens_in_any_reader_of_csv(farm: Farm, tmp_path: Path) -> None:
    fill(farm)
    farm.export_table("weighing", tmp_path / "w.csv")
    (line,) = rows(tmp_path / "w.csv")
    # 120.5 lb x 0.45359237 kg/lb (exact) = 54.6578... kg, to four decimals.
    assert line["weight_kg (kg)"] == "54.6579"
    assert line["weight_kg as written"] == "120.5 lb"
    assert (line["animal"], line["on"], line["laptop"]) == ("Agate", "2026-05-01", "house")


def test_no_name_becomes_a_formula_and_it_comes_back_as_it_was(farm: Farm, tmp_path: Path) -> None:
    fill(farm)
    farm.export_table("animal", tmp_path / "a.csv")
    told = {line["name"] for line in rows(tmp_path / "a.csv")}
    assert told == {"Agate", '\'=HYPERLINK("http://x","y")'}
    notes = farm.export_table("note", tmp_path / "n.csv")
    assert list(notes.files.values()) == [1]
    assert "\\u202e" in rows(tmp_path / "n.csv")[0]["text"]


def test_a_table_of_this_farm_taken_again_changes_nothing(farm: Farm, tmp_path: Path) -> None:
    fill(farm)
    before = farm.verify().entries
    for kind in ("animal", "weighing", "note"):
        farm.export_table(kind, tmp_path / f"{kind}.csv")
        done = farm.import_sheet(tmp_path / f"{kind}.csv", kind)
        assert (done.written, done.refused) == (0, [])
    assert farm.verify().entries == before


def test_every_kind_and_view_is_exported_into_one_folder(farm: Farm, tmp_path: Path) -> None:
    fill(farm)
    done = farm.export_tables(tmp_path / "all")
    names = {Path(name).name for name in done.files}
    assert {
        "animal.csv",
        "weighing.csv",
        "view-herd.csv",
        "view-due.csv",
        "view-trail.csv",
    } <= names
    for name in done.files:
        assert Path(name).read_bytes().endswith(b"\r\n")
    headings = (tmp_path / "all" / "view-herd.csv").read_text().split(",")
    assert "age_days (d)" in headings
    with pytest.raises(Refused, match="holds something"):
        farm.export_tables(tmp_path / "all")


def test_a_file_that_is_there_is_not_written_over(farm: Farm, tmp_path: Path) -> None:
    (tmp_path / "w.csv").write_text("mine")
    with pytest.raises(Refused, match="is there already"):
        farm.export_table("weighing", tmp_path / "w.csv")
    with pytest.raises(Refused, match="No kind"):
        farm.export_table("weigh", tmp_path / "x.csv")
    assert (tmp_path / "w.csv").read_text() == "mine"
    assert not (tmp_path / "x.csv").exists()


def test_the_whole_farm_goes_round_and_answers_byte_for_byte(pair: Laptops, tmp_path: Path) -> None:
    pair.ask("house", "record", "animal", "name=Agate", "sex=doe", "born=2021-03-01")
    pair.meet()
    trim = pair.ask("house", "record", "hoof-trim", "animal=Agate", "front_left=ok")["id"]
    pair.meet()
    pair.ask("house", "amend", trim, "front_left=soft")
    pair.ask("barn", "amend", trim, "front_left=rot")
    pair.ask("barn", "record", "note", "about=Agate", "text=~tilde ~~two \u202e")
    pair.meet()
    out = tmp_path / "farm.jsonl"
    pair.ask("house", "export", "farm", str(out))
    done = pair.ask("loft", "import", str(out))
    assert (done["kind"], done["refused"]) == ("farm", [])
    for words in READ:
        told = [pair.type(laptop, *words, "--json").out for laptop in ("house", "loft")]
        assert told[0] == told[1], words
    assert pair.ask("loft", "verify")["faults"] == []
    assert "opens to read" in pair.refusal("loft", "record", "note", "text=x")
    # And once more out of the copy: the same bytes.
    again = tmp_path / "again.jsonl"
    pair.ask("loft", "export", "farm", str(again))
    assert again.read_bytes() == out.read_bytes()


def test_what_a_partner_lacks_comes_in_and_the_rest_is_here_already(
    pair: Laptops, tmp_path: Path
) -> None:
    pair.ask("house", "record", "note", "text=before")
    pair.meet()
    pair.ask("house", "record", "note", "text=later")
    pair.ask("house", "export", "farm", str(tmp_path / "farm.jsonl"))
    done = pair.ask("barn", "import", str(tmp_path / "farm.jsonl"))
    assert done["written"] == 1
    assert pair.ask("barn", "import", str(tmp_path / "farm.jsonl"))["written"] == 0


def test_as_of_leaves_out_what_was_written_later(pair: Laptops, tmp_path: Path) -> None:
    pair.ask("house", "record", "animal", "name=Agate", "sex=doe", at="2026-03-10T08:00:00+00:00")
    pair.ask("house", "record", "animal", "name=Opal", "sex=doe", at="2026-04-10T08:00:00+00:00")
    pair.ask("house", "export", "farm", str(tmp_path / "march.jsonl"), "--as-of", "2026-03")
    told = [json.loads(line) for line in (tmp_path / "march.jsonl").read_text().splitlines()]
    names = [
        one["fields"]["name"]["value"]
        for one in told
        if one.get("kind") == "animal" and "fields" in one
    ]
    assert names == ["Agate"]
    assert told[0]["as_of"].startswith("2026-03-31T23:59:59")
    pair.refusal("house", "export", "farm", str(tmp_path / "x.jsonl"), "--as-of", "2020-01-01")


def test_nothing_secret_is_in_what_goes_out(farm: Farm, tmp_path: Path) -> None:
    fill(farm)
    farm.export_farm(tmp_path / "farm.jsonl")
    farm.export_tables(tmp_path / "all")
    told = b"".join(
        file.read_bytes() for file in tmp_path.rglob("*") if file.suffix in (".jsonl", ".csv")
    )
    secret = secret_of(farm._store.farm, farm._store.device)
    assert secret is not None
    for seed in (secret.sign_seed, secret.seal_seed):
        for form in (seed, seed.hex().encode(), base64.b64encode(seed),
                     base64.b32encode(seed).rstrip(b"=").lower()):  # fmt: skip
            assert form not in told


@pytest.mark.parametrize(
    ("spoil", "why"),
    [
        (lambda raw: raw[: len(raw) // 2], "not whole"),
        (lambda raw: raw.rsplit(b"\n", 2)[0] + b"\n", "cut off"),
        (lambda raw: raw.replace(b'"name":"Agate"', b'"name":"Agote"', 1), "not the entry"),
        (lambda raw: raw.replace(b'"height":2', b'"height":3', 1), "not the entry it names"),
        (lambda raw: raw + b"{}\n", "something follows"),
        (lambda raw: b"".join(sorted(raw.splitlines(keepends=True))), "first line"),
        (lambda raw: raw.replace(b'"schema":1', b'"schema":9', 1), "schema 9"),
        (lambda raw: raw.splitlines(keepends=True)[0] + b"[" * 100_000 + b"\n", "line 2"),
        (lambda raw: raw.splitlines(keepends=True)[0] + b"x" * 600_000, "line"),
        (lambda raw: raw.splitlines(keepends=True)[0] + b"\xff\xfe\n", "line 2"),
        (lambda raw: raw.splitlines(keepends=True)[0] + b'{"entry":1e999}\n', "line 2"),
    ],
)  # fmt: skip
def test_a_spoilt_farm_is_refused_whole(
    farm: Farm, tmp_path: Path, spoil: object, why: str
) -> None:
    fill(farm)
    farm.export_farm(tmp_path / "farm.jsonl")
    assert callable(spoil)
    (tmp_path / "spoilt.jsonl").write_bytes(spoil((tmp_path / "farm.jsonl").read_bytes()))
    before = farm.verify().entries
    with pytest.raises(Refused, match=why):
        farm.import_whole(tmp_path / "spoilt.jsonl")
    assert farm.verify().entries == before
    with pytest.raises(Refused):
        unfold(tmp_path / "spoilt.jsonl", tmp_path / "new")
    assert not (tmp_path / "new").exists() or not any((tmp_path / "new").iterdir())


def test_a_forged_signature_is_refused_by_name(farm: Farm, tmp_path: Path) -> None:
    """The file hashes right and the entry is the one it names, but its device never signed it."""
    import hashlib

    fill(farm)
    farm.export_farm(tmp_path / "farm.jsonl")
    lines = (tmp_path / "farm.jsonl").read_bytes().splitlines(keepends=True)[:-1]
    told = json.loads(lines[6])
    raw = bytearray(base64.b64decode(told["signature"]))
    raw[5] ^= 1
    told["signature"] = base64.b64encode(bytes(raw)).decode()
    lines[6] = json.dumps(told).encode() + b"\n"
    closing = {"lines": len(lines), "sha256": hashlib.sha256(b"".join(lines)).hexdigest()}
    lines.append(json.dumps(closing, separators=(",", ":")).encode() + b"\n")
    (tmp_path / "forged.jsonl").write_bytes(b"".join(lines))
    done = unfold(tmp_path / "forged.jsonl", tmp_path / "new")
    assert "signature" in done.refused[0].why
    with Farm.open(tmp_path / "new", Wall(AT)) as copy:
        assert copy.verify().faults == []


def test_another_farm_is_refused(farm: Farm, tmp_path: Path) -> None:
    from herdsync import founding

    founding.found(tmp_path / "other", Wall(AT), name="Other", keeper="Ravi", device="barn")
    with Farm.open(tmp_path / "other", Wall(AT)) as other:
        other.export_farm(tmp_path / "other.jsonl")
    with pytest.raises(Refused, match="another farm"):
        farm.import_whole(tmp_path / "other.jsonl")
