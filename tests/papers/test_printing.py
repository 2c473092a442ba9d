"""Papers for people: what they say, what stops them, and that a stranger can check and open them."""

from __future__ import annotations

from pathlib import Path

import pypdfium2  # type: ignore[import-untyped]
import pytest

from herdsync import founding
from herdsync.acts import fonts
from herdsync.farm import Farm
from herdsync.faults import Refused
from herdsync.papers.outcomes import PaperLine
from herdsync.papers.paper import LINE, NOT_FIT
from herdsync.store.backup import write_pieces
from herdsync.wall import Wall
from tests.cli.laptops import Laptops
from tests.papers.conftest import AT


def fill(farm: Farm) -> None:
    """Agate, bred by Flint and under treatment; Shale, her kid of the year."""
    for name, sex, born in (("Agate", "doe", "2021-03-01"), ("Flint", "buck", "2020-05-01")):
        farm.record(
            "animal",
            {"name": name, "sex": sex, "born": born, "breed": "Saanen", "registry_no": f"R-{name}",
             "registry_name": f"QMR {name}", "tattoo_right": "QMR",
             "tattoo_left": "N1" if sex == "doe" else "M2"},
        )  # fmt: skip
    farm.record(
        "animal",
        {"name": "Shale", "sex": "doe", "born": "2026-03-13", "dam": "Agate", "sire": "Flint",
         "tattoo_right": "QMR", "tattoo_left": "V1"},
    )  # fmt: skip
    farm.record("mating", {"doe": "Agate", "buck": "Flint", "on": "2026-05-01", "how": "hand"})
    farm.record(
        "product",
        {"substance": "examplin", "name": "Examplin 10", "milk_h": "96", "meat_d": "28",
         "said_by": "Dr. Vale", "vet_address": "1 Mill Lane", "lot": "L7"},
    )  # fmt: skip
    farm.record(
        "dose",
        {"animal": "Agate", "on": "2026-05-31T06:00:00+00:00", "product": "Examplin 10",
         "amount_ml": "2.5", "because": "cough", "route": "sc"},
    )  # fmt: skip
    for name in ("Agate", "Shale"):
        farm.record("tattoo", {"animal": name, "on": "2026-05-30", "stage": "re-read",
                               "right": "QMR", "left": "N1" if name == "Agate" else "V1",
                               "read_by": "Ravi"})  # fmt: skip


def one(lines: list[PaperLine]) -> PaperLine:
    assert len(lines) == 1
    return lines[0]


def test_a_sale_takes_all_its_papers_in_one_call(farm: Farm) -> None:
    fill(farm)
    papers = farm.papers("sale", ["Agate", "Shale"], buyer="Ida Fell")
    assert [(one.paper, one.about) for one in papers] == [
        ("sale-sheet", "Agate"), ("transfer", "Agate"), ("service-memo", "Agate"),
        ("sale-sheet", "Shale"), ("transfer", "Shale"), ("kid-registration", "Shale"),
    ]  # fmt: skip
    assert all(len(line) <= LINE for one in papers for line in one.text.splitlines())


def test_the_sheet_tells_what_a_buyer_asks(farm: Farm) -> None:
    """The fields of a sale sheet: common practice, no published source."""
    fill(farm)
    farm.record("disease-test", {"animal": "Agate", "on": "2026-04-02", "disease": "CAE",
                                 "result": "negative", "laboratory": "Fell Lab"})  # fmt: skip
    farm.record("hoof-trim", {"animal": "Agate", "on": "2026-05-20", "front_left": "ok"})
    farm.record("weighing", {"animal": "Agate", "on": "2026-05-20", "weight_kg": "132 lb"})
    sheet = one(farm.papers("sale-sheet", ["Agate"], buyer="Ida Fell"))
    assert sheet.fit
    for told in (
        "QMR Agate (Agate)", "R-AGATE", "right QMR, left N1", "Ravi, 2026-05-30",
        "mated 2026-05-01 with Flint", "negative as of 2026-04-02", "Fell Lab", "132 lb",
        "front left ok", "Ida Fell", "Known to Oda's laptop 'house' on 2026-06-01 08:00",
        # 31 May 06:00 + 96 h and + 28 d.
        "until 2026-06-04 06:00", "until 2026-06-28 06:00",
    ):  # fmt: skip
        assert told in " ".join(sheet.text.split()), told
    # What holds milk and meat is marked with the dose and the product that cause it.
    held = [mark for mark in sheet.marks if "not for sale" in mark]
    assert len(held) == 2
    assert all("[" in mark for mark in held)


def test_a_hold_a_conflict_and_a_missing_mark_show_their_records(farm: Farm) -> None:
    fill(farm)
    test = farm.record("disease-test", {"animal": "Agate", "on": "2026-05-02", "disease": "CAE",
                                        "result": "positive"}).id  # fmt: skip
    sheet = one(farm.papers("sale-sheet", ["Agate"]))
    assert not sheet.fit
    assert f"[{test[:8]}]" in sheet.blocks[0]
    assert NOT_FIT in sheet.text
    farm.record("animal", {"name": "Opal", "sex": "doe", "born": "2024-01-01"})
    bare = one(farm.papers("sale-sheet", ["Opal"]))
    assert bare.fit
    assert "No tattoo, tag or chip is on record" in bare.marks[0]
    assert "read them before it leaves" in bare.marks[1]
    memo = one(farm.papers("kid-registration", ["Opal"]))
    assert [block.split(" [")[0] for block in memo.blocks] == [
        "No dam is on record", "No sire is on record"
    ]  # fmt: skip


def test_a_disagreement_blocks_until_it_is_resolved(pair: Laptops) -> None:
    doe = pair.ask("house", "record", "animal", "name=Agate", "sex=doe", "born=2021-03-01")["id"]
    pair.meet()
    pair.ask("house", "amend", doe, "born=2021-03-02")
    pair.ask("barn", "amend", doe, "born=2021-03-03")
    pair.meet()
    (sheet,) = pair.ask("house", "papers", "sale-sheet", "Agate")
    assert sheet["fit"] is False
    assert f"[{doe[:8]}]" in sheet["blocks"][0]
    conflict = pair.ask("house", "conflicts")[0]["id"]
    pair.ask("house", "resolve", conflict, "--value", "2021-03-02")
    (sheet,) = pair.ask("house", "papers", "sale-sheet", "Agate", at="2026-03-18T07:00:00+00:00")
    assert sheet["fit"] is True
    assert "Ravi's laptop 'barn' last heard" in sheet["text"]
    assert "9 days ago" in " ".join(sheet["text"].split())


def test_what_may_not_be_handed_over_is_not_signed(farm: Farm, tmp_path: Path) -> None:
    fill(farm)
    farm.record("disease-test", {"animal": "Agate", "on": "2026-05-02", "disease": "CAE"})
    sheet = one(farm.papers("sale-sheet", ["Agate"], out=tmp_path / "out"))
    assert [Path(file).suffix for file in sheet.files] == [".txt", ".pdf"]
    with pytest.raises(Refused, match="is there already"):
        farm.papers("sale-sheet", ["Agate"], out=tmp_path / "out")


def test_every_paper_table_and_calendar_comes_without_any_key(
    farm: Farm, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever reads the farm's open text, or its folder on a machine without its key, prints it all."""
    fill(farm)
    signed = {one.paper: one.text for one in farm.papers("sale", ["Agate"])}
    farm.export_farm(tmp_path / "farm.jsonl")
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "no-keys"))
    founding.unfold(tmp_path / "farm.jsonl", tmp_path / "reader")
    with Farm.open(tmp_path / "farm", Wall(AT)) as keyless:
        assert {one.paper: one.text for one in keyless.papers("sale", ["Agate"])} == signed
    with Farm.open(tmp_path / "reader", Wall(AT)) as reader:
        for line in reader.papers("sale", ["Agate"], out=tmp_path / "out"):
            assert [Path(file).suffix for file in line.files] == [".txt", ".pdf"]
            told = " ".join(Path(line.files[0]).read_text(encoding="utf-8").split())
            assert "Known to a copy that only reads on 2026-06-01 08:00." in told
            assert "Not signed: the laptop that printed it reads the farm" in told
            assert "Oda's laptop 'house' last heard: its newest entry here is of" in told
        assert reader.calendar(tmp_path / "farm.ics").events
        assert reader.export_standard(tmp_path / "animals.json").files
        reader.export_farm(tmp_path / "again.jsonl")
        assert (tmp_path / "again.jsonl").read_bytes() == (tmp_path / "farm.jsonl").read_bytes()


def test_another_program_opens_the_pdf_and_finds_the_words(
    farm: Farm, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Opened with PDFium, which shares no code with the library that wrote it."""
    monkeypatch.setattr(fonts, "folders", list)
    fill(farm)
    farm.record("animal", {"name": "Ørsted \u202e日本 [/b] =1", "sex": "doe", "born": "2024-01-01"})
    for paper in ("sale-sheet", "history"):
        (line,) = farm.papers(paper, [farm.find("rsted")[0].id], out=tmp_path)
        told = _words(next(Path(one) for one in line.files if one.endswith(".pdf")))
        assert "Ørsted \\u202e\\u65e5\\u672c* [/b] =1" in told
    (line,) = farm.papers("treatments", first="2026-01-01", out=tmp_path)
    told = _words(next(Path(one) for one in line.files if one.endswith(".pdf")))
    assert "Examplin 10" in told


def _words(file: Path) -> str:
    document = pypdfium2.PdfDocument(str(file))
    text = " ".join(document[at].get_textpage().get_text_range() for at in range(len(document)))
    document.close()
    return " ".join(text.split())


def test_the_treatment_record_names_fields_gaps_and_keeping(farm: Farm) -> None:
    """21 CFR 530.5 (USA) asks for 2 years, the English guidance for 5; 31 May 2026 + 5 years."""
    fill(farm)
    farm.record("product", {"substance": "otherine"})
    bare = farm.record("dose", {"animal": "Shale", "on": "2026-05-30", "product": "otherine"}).id
    paper = one(farm.papers("treatments", first="2026-05-01", last="2026-05-31"))
    told = " ".join(paper.text.split())
    for word in ("Examplin 10", "lot: L7", "2.5 mL", "under the skin", "cough", "Dr. Vale",
                 "milk 96 h, meat 28 d", "2031-05-31", "1 Mill Lane", "21 CFR 530.5"):  # fmt: skip
        assert word in told, word
    assert paper.marks == [
        "Not written down: lot, amount, route, condition, on whose word, withdrawal, of "
        f"Shale 2026-05-30 [{bare[:8]}]."
    ]
    assert "Treatments 2" in told
    with pytest.raises(Refused, match="before it begins"):
        farm.papers("treatments", first="2026-06-01", last="2026-05-01")


def test_unknown_papers_and_animals_are_refused(farm: Farm) -> None:
    for paper, animals in (("deed", ["Agate"]), ("sale", []), ("sale", ["Agate"])):
        with pytest.raises(Refused):
            farm.papers(paper, animals)


def test_the_command_prints_or_writes(pair: Laptops, tmp_path: Path) -> None:
    pair.ask("house", "record", "animal", "name=Agate", "sex=doe", "born=2021-03-01")
    assert "Sale sheet: Agate" in pair.type("house", "papers", "sale", "Agate").out
    written = pair.type(
        "house", "papers", "sale", "Agate", "--out", str(tmp_path / "out"), "--no-pdf"
    )
    assert "sale-sheet-agate.txt" in written.out
    assert "sale-sheet" in pair.type("house", "papers").out


def test_names_in_any_letters_make_files_of_their_own_and_all_or_none(
    farm: Farm, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    names = ("Дымка", "日", "山", "Łucja/../x")
    ids = [
        farm.record("animal", {"name": name, "sex": "doe", "born": "2024-01-01"}).id
        for name in names
    ]
    lines = farm.papers("history", ids, out=tmp_path / "out", pdf=False)
    assert [Path(line.files[0]).name for line in lines] == [
        "history-dymka.txt", "history-u65e5.txt", "history-u5c71.txt", "history-lucja-x.txt"
    ]  # fmt: skip
    twice = farm.papers("history", [ids[0], ids[0]], out=tmp_path / "two", pdf=False)
    assert [Path(line.files[0]).name for line in twice] == [
        "history-dymka.txt",
        "history-dymka-no2.txt",
    ]
    # One that is there already: nothing of the others is written.
    with pytest.raises(Refused, match="is there already"):
        farm.papers("history", [ids[3], ids[1]], out=tmp_path / "out")

    # A full disk after the first file: nothing stays.
    def full(file: Path, pieces: list[bytes]) -> None:
        if file.name.endswith("proof.txt"):
            raise Refused("The disk is full.")
        write_pieces(file, pieces)

    monkeypatch.setattr("herdsync.acts.printing.write_pieces", full)
    with pytest.raises(Refused, match="disk is full"):
        farm.papers("history", ids, out=tmp_path / "full", pdf=False)
    assert list((tmp_path / "full").iterdir()) == []
