"""Imports: line by line, the same line one record, on one laptop or two, undone and done again."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from herdsync.acts import importing
from herdsync.farm import Farm
from herdsync.faults import Refused
from tests.cli.laptops import Laptops

HERD = (
    "Name,DOB,Sex,Dam,Sire\r\n"
    "Shale,3/13/2026,F,Agate,Flint\r\n"
    "Agate,1.3.2021,doe,,\r\n"
    "Flint,May 2020,M,,\r\n"
)


def put(folder: Path, text: str | bytes, name: str = "table.csv") -> Path:
    file = folder / name
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    return file


def test_a_pedigree_in_any_order(farm: Farm, tmp_path: Path) -> None:
    done = farm.import_sheet(put(tmp_path, HERD), "animal")
    assert (done.lines, done.written, done.here, done.refused) == (3, 3, 0, [])
    line = farm.animal_line("Shale")
    assert (line.dam_name, line.sire_name, line.born) == ("Agate", "Flint", "2026-03-13")


def test_a_dry_run_writes_nothing(farm: Farm, tmp_path: Path) -> None:
    done = farm.import_sheet(put(tmp_path, HERD), "animal", dry_run=True)
    assert (done.dry_run, done.written) == (True, 3)
    assert farm.herd(every=True) == []


def test_the_same_line_again_is_the_same_record(farm: Farm, tmp_path: Path) -> None:
    file = put(tmp_path, HERD)
    farm.import_sheet(file, "animal")
    before = farm.verify().entries
    again = farm.import_sheet(file, "animal")
    assert (again.written, again.here) == (0, 3)
    assert farm.verify().entries == before
    weights = put(tmp_path, "goat,date,lb\nAgate,2026-05-01,120\nAgate,2026-05-01,120\n", "w.csv")
    done = farm.import_sheet(
        weights, "weighing", match={"lb": "weight_kg"}, units={"weight_kg": "lb"}
    )
    assert (done.written, done.here) == (1, 1)
    assert "line 2" in done.warnings[0]


def test_an_import_is_undone_whole_and_done_again_better(farm: Farm, tmp_path: Path) -> None:
    farm.import_sheet(put(tmp_path, HERD), "animal")
    weights = put(
        tmp_path, "goat,date,weight\nAgate,2026-05-01,120\nFlint,2026-05-01,150\n", "w.csv"
    )
    farm.import_sheet(weights, "weighing")
    farm.undo()
    assert [act for act in farm.show("Agate").acts if act.kind == "weighing"] == []
    again = farm.import_sheet(weights, "weighing", units={"weight_kg": "lb"})
    assert again.written == 2
    acts = [act for act in farm.show("Agate").acts if act.kind == "weighing"]
    assert [act.shown for act in acts] == ["weight 120 lb"]
    assert farm.conflicts() == []


def test_two_laptops_importing_one_file_have_one_record(pair: Laptops, tmp_path: Path) -> None:
    herd = str(put(tmp_path, HERD))
    weights = str(put(tmp_path, "goat,date,weight (lb)\nAgate,2026-03-01,120\n", "w.csv"))
    for laptop in ("house", "barn"):
        pair.ask(laptop, "import", herd, "--kind", "animal")
        pair.ask(laptop, "import", weights, "--kind", "weighing")
    pair.meet()
    for laptop in ("house", "barn"):
        assert len(pair.ask(laptop, "herd", "--all")) == 3
        assert pair.ask(laptop, "conflicts") == []
    acts = [act for act in pair.ask("barn", "show", "Agate")["acts"] if act["kind"] == "weighing"]
    assert len(acts) == 1


def test_who_is_here_or_in_the_file_already_is_refused(farm: Farm, tmp_path: Path) -> None:
    farm.record(
        "animal", {"name": "Agate", "sex": "doe", "tattoo_right": "QMR", "tattoo_left": "P1"}
    )
    table = (
        "Name,DOB,Sex,Dam,Right ear,Left ear\n"
        "Agate,2021-03-01,F,,,\n"  # here already, her birth date untold
        "Opal,2022-03-01,F,,QMR,P1\n"  # wears Agate's tattoo
        "Onyx,2026-03-01,M,Agate,,\n"  # his dam is the one who is here
        "Marl,2022-01-01,F,,,\n"
        "Marl,2022-01-01,F,,QMR,P7\n"  # twice in the file
        "Marl,2024-01-01,F,,,\n"  # another of that name, told apart by birth
        "Beryl,2026-04-01,F,Marl,,\n"  # which Marl?
        "Topaz,2026-04-02,F,Quartz,,\n"  # whose line is missing
    )
    done = farm.import_sheet(put(tmp_path, table), "animal")
    assert [one.line for one in done.refused] == [2, 3, 6, 8, 9]
    assert farm.animal_line("Onyx").dam_name == "Agate"
    assert all(one.why.endswith(".") for one in done.refused)


def test_parents_nobody_knows_can_be_written_as_outside(farm: Farm, tmp_path: Path) -> None:
    table = "Name,Sex,Dam,Sire\nTopaz,F,Quartz,Basalt\nOnyx,M,Quartz,Basalt\n"
    done = farm.import_sheet(put(tmp_path, table), "animal", add_parents=True)
    assert done.written == 4
    quartz = farm.animal_line("Quartz")
    assert (quartz.sex, quartz.standing) == ("doe", "outside")


def test_treatments_and_kiddings(farm: Farm, tmp_path: Path) -> None:
    farm.import_sheet(put(tmp_path, HERD), "animal")
    farm.record("product", {"substance": "examplin", "name": "Examplin 10", "milk_h": "96"})
    doses = "Goat,Date,Drug,Amount (mL),Reason\nAgate,2026-05-30,Examplin 10,2.5,cough\n"
    done = farm.import_sheet(put(tmp_path, doses), "dose")
    assert (done.written, done.refused) == (1, [])
    assert "milk not for sale" in [hold.what for hold in farm.holds("Agate")]
    kids = "Doe,Date,Live kids,Stillborn\nAgate,13.3.2026,1,0\nAgate,13.3.2030,1,0\n"
    done = farm.import_sheet(put(tmp_path, kids), "kidding")
    assert done.written == 1
    assert "lies ahead" in done.refused[0].why


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (b"Agate,,55 kg", "says no date"),
        (b"Agate,2026-05-01,", "needs weight_kg"),
        (b"Agate,2026-05-01,5500 kg", "cannot be right"),
        (b"Agate,2026-02-30,55 kg", "no such day"),
        (b"Nobody,2026-05-01,55 kg", "Nothing here is called"),
        (b"Agate,2026-05-01,55 kg,stray", "more cells"),
        (b"Agate,2026-05-01,55 \xffkg", "not text in UTF-8"),
        (b"Agate,2026-05-01,\x1b[2J", "no weight"),
        (b"Agate,2026-05-01," + b"9" * 5000, "weight"),
        (b'Agate,2026-05-01,"55 kg', "never closed"),
    ],
)
def test_what_cannot_stand_is_a_sentence_and_nothing_else_is_lost(
    farm: Farm, tmp_path: Path, line: bytes, why: str
) -> None:
    farm.import_sheet(put(tmp_path, HERD), "animal")
    raw = b"Goat,Date,Weight\nFlint,2026-05-01,80 kg\n" + line + b"\n"
    done = farm.import_sheet(put(tmp_path, raw), "weighing")
    assert (done.written, done.refused_lines, done.refused[0].line) == (1, 1, 3)
    assert why in done.refused[0].why


def test_files_that_are_no_tables_are_refused(farm: Farm, tmp_path: Path) -> None:
    for raw in (b"", b"\xff\xff\xff", b"\0\0\0", b"price,shop\n1,2\n"):
        with pytest.raises(Refused):
            farm.import_sheet(put(tmp_path, raw), "weighing")
    for kind, match in (("settings", "No kind"), ("setting", "not imported")):
        table = put(tmp_path, "key,value\nprefix,X\n")
        with pytest.raises(Refused, match=match):
            done = farm.import_sheet(table, kind)
            raise Refused(done.refused[0].why)
    with pytest.raises(Refused, match="could not be read"):
        farm.import_sheet(tmp_path / "none.csv", "weighing")


def test_a_long_file_goes_in_by_thousands_with_progress(farm: Farm, tmp_path: Path) -> None:
    farm.import_sheet(put(tmp_path, HERD), "animal")
    days = [
        f"Agate,2025-{1 + n // 28 % 12:02d}-{1 + n % 28:02d},{50 + n // 336}.{n % 10} kg"
        for n in range(2500)
    ]
    told: list[tuple[int, int, int]] = []

    def progress(lines: int, written: int, refused: int) -> None:
        told.append((lines, written, refused))

    file = put(tmp_path, "\n".join(["Goat,Date,Weight", *days, "Nobody,2025-01-01,1 kg"]))
    dry = farm.import_sheet(file, "weighing", dry_run=True, progress=progress)
    assert (dry.lines, dry.written, dry.refused_lines) == (2501, 2500, 1)
    assert told == [(1000, 1000, 0), (2000, 2000, 0), (2501, 2500, 1)]


def test_every_refused_line_can_go_to_a_file(pair: Laptops, tmp_path: Path) -> None:
    pair.ask("house", "record", "animal", "name=Agate", "sex=doe")
    lines = "\n".join(f"Nobody{n},2026-03-01,50" for n in range(1200))
    file, out = str(put(tmp_path, f"goat,date,weight\n{lines}\n")), tmp_path / "refused.csv"
    words = ("import", file, "--kind", "weighing", "--refused", str(out))
    done = pair.ask("house", *words)
    assert (done["refused_lines"], len(done["refused"])) == (1200, 1000)
    told = out.read_text().splitlines()
    assert len(told) == 1201
    assert told[1200].startswith("1201,")
    assert "is there already" in pair.refusal("house", *words)


def test_undo_takes_back_a_long_import_whole(farm: Farm, tmp_path: Path) -> None:
    farm.import_sheet(put(tmp_path, HERD), "animal")
    days = [
        f"Agate,20{24 + n // 336}-{1 + n // 28 % 12:02d}-{1 + n % 28:02d},50 kg" for n in range(620)
    ]
    more = [
        f"Flint,20{24 + n // 336}-{1 + n // 28 % 12:02d}-{1 + n % 28:02d},50 kg" for n in range(620)
    ]
    file = put(tmp_path, "\n".join(["Goat,Date,Weight", *days, *more]))
    assert farm.import_sheet(file, "weighing").written == 1240
    farm.undo()
    assert not [one for name in ("Agate", "Flint") for one in farm.show(name).acts]


def test_the_command_tells_lines_and_columns(pair: Laptops, tmp_path: Path) -> None:
    file = str(put(tmp_path, HERD + "Agate,,,,\r\n"))
    done = pair.type("house", "import", file, "--kind", "animal", "--dry-run")
    assert "would write 3" in done.out
    assert "column 'DOB': born" in done.out
    assert "line 5: An animal called Agate" in done.out
    answer: Any = json.loads(pair.type("house", "import", file, "--kind", "animal", "--json").out)
    assert answer["refused"][0]["line"] == 5
    assert "Say --kind" in pair.refusal("house", "import", file)
    pair.refusal("house", "import", file, "--kind", "animal", "--match", "x", code=2)


def test_stopped_in_the_middle_whole_batches_stand_and_it_goes_on(
    farm: Farm, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(importing, "BATCH", 10)
    farm.import_sheet(put(tmp_path, HERD), "animal")
    days = [f"Agate,2026-05-{day:02d},{day}\n" for day in range(1, 29)]
    file = put(tmp_path, "goat,date,weight (lb)\n" + "".join(days), "w.csv")

    def stop(lines: int, written: int, refused: int) -> None:
        del written, refused
        if lines >= 20:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        farm.import_sheet(file, "weighing", progress=stop)
    weighed = [act for act in farm.show("Agate").acts if act.kind == "weighing"]
    assert len(weighed) == 20
    again = farm.import_sheet(file, "weighing")
    assert (again.written, again.here) == (8, 20)
    assert farm.verify().faults == []


def test_broken_off_within_a_batch_nothing_of_it_stands(
    farm: Farm, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(importing, "BATCH", 10)
    farm.import_sheet(put(tmp_path, HERD), "animal")
    before = farm.verify().entries
    wrong = "".join(f"Agate,2026-05-{day:02d},x\n" for day in range(1, 4))
    good = "".join(f"Agate,2026-04-{day:02d},{day}\n" for day in range(1, 28))
    file = put(tmp_path, "goat,date,weight (lb)\n" + good + wrong, "w.csv")

    def full(line: int, why: str) -> None:
        raise OSError(f"no room to tell of line {line}: {why}")

    with pytest.raises(OSError, match="no room"):
        farm.import_sheet(file, "weighing", told=full)
    assert (farm.verify().entries - before) % 10 == 0


def test_ctrl_c_says_how_far_it_came(
    pair: Laptops, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pair.ask("house", "import", str(put(tmp_path, HERD)), "--kind", "animal")
    file = put(tmp_path, "goat,date,weight (lb)\nAgate,2026-03-01,120\n", "w.csv")

    def stopped(self: Farm, *told: Any, progress: Any, **more: Any) -> None:
        progress(2_000, 1_990, 10)
        raise KeyboardInterrupt

    monkeypatch.setattr(Farm, "import_sheet", stopped)
    done = pair.type("house", "import", str(file), "--kind", "weighing")
    assert done.code != 0
    assert "2000 lines were read and 1990 written" in done.err
    assert "again goes on" in done.err


def test_more_animals_than_a_file_may_bring_are_refused_before_anything_is_written(
    farm: Farm, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(importing, "ANIMALS_MOST", 2)
    with pytest.raises(Refused, match="more than 2 animals"):
        farm.import_sheet(put(tmp_path, HERD), "animal")
    assert farm.herd(every=True) == []


def test_tattoos_in_a_table_tell_the_sheets_once(farm: Farm, tmp_path: Path) -> None:
    farm.import_sheet(put(tmp_path, HERD), "animal")
    farm.amend("Agate", ["tattoo_left=M1"])
    table = put(
        tmp_path,
        "animal,on,stage,right,left,legibility_left\n"
        "Shale,2026-04-01,test-read,QMR,V1,\n"
        "Shale,2026-04-01,done,QMR,V1,\n"
        "Shale,2026-04-20,re-read,QMR,V 01,clear\n"
        "Flint,2026-04-20,re-read,QMR,P9,part-unreadable\n"
        "Agate,2021-04-20,done,QMR,M2,\n",
        "tattoos.csv",
    )
    dry = farm.import_sheet(table, "tattoo", dry_run=True)
    done = farm.import_sheet(table, "tattoo")
    assert (dry.written, done.written, done.refused) == (5, 5, [])
    shale, flint, agate = (farm.animal_line(one) for one in ("Shale", "Flint", "Agate"))
    assert (shale.tattoo_right, shale.tattoo_left, shale.disputed) == ("QMR", "V1", False)
    assert (flint.tattoo_right, flint.tattoo_left) == ("QMR", "")
    assert agate.disputed
    assert any("line 6" in one and "says M1" in one for one in done.warnings)
    entries = farm.verify().entries
    again = farm.import_sheet(table, "tattoo")
    assert (again.written, again.here, farm.verify().entries) == (0, 5, entries)
    farm.undo()
    assert farm.animal_line("Shale").tattoo_left == ""
    assert (farm.animal_line("Agate").tattoo_left, farm.conflicts()) == ("M1", [])
    assert farm.import_sheet(table, "tattoo").written == 5
    assert farm.animal_line("Shale").tattoo_left == "V1"
