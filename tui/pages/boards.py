"""What the trade says of the herd, board by board: worms, tests, bucks for a doe, marks. Only shown here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.pages.page import Cell, Column, Fact, Page, Row, heading

if TYPE_CHECKING:
    from herdsync.farm import Farm

COLUMNS = (Column("Animal", 13, grow=1), Column("What", 20, grow=2), Column("Says", 20, grow=4))


def worms(farm: Farm) -> Page:
    """Eyelid scores, condition and egg counts; then the reduction tests and what they say of each family."""
    board = farm.worms()
    rows: list[Row] = []
    facts: dict[str, list[Fact]] = {}
    for one in board.animals:
        told = [
            "" if one.eyelid is None else f"eyelid {one.eyelid}",
            "" if one.condition is None else f"condition {one.condition:g}",
            "" if one.eggs_per_gram is None else f"{one.eggs_per_gram:g} eggs per g",
        ]
        said = "; ".join(part for part in (one.says, one.condition_says, one.eggs_say) if part)
        what = ", ".join(part for part in told if part)
        if what:
            cells = (Cell(one.name, "strong"), Cell(what), Cell(said, "dim"))
            rows.append(Row(one.id, cells, animal=one.id, name=one.name, pen=one.pen))
            facts[one.id] = [Fact("Says", said), *(Fact("Because", why) for why in one.because)]
            if one.eyelid is not None:
                facts[one.id].append(Fact("Scored", one.eyelid_on[:10]))
            facts[one.id].append(Fact("! Caution", board.caution, "closing"))
    if board.trials:
        rows.append(heading("trials", "Whether a wormer worked: egg counts before and after"))
    for trial in board.trials:
        key = f"trial {trial.trial}"
        cut = (
            "" if trial.reduction_percent is None else f"{trial.reduction_percent:.3g} % fewer eggs"
        )
        cells = (
            Cell(trial.trial, "strong"),
            Cell(f"{trial.product_name}: {cut}"),
            Cell(trial.verdict),
        )
        rows.append(Row(key, cells))
        facts[key] = [Fact("Verdict", f"{trial.verdict}: {trial.reason}")]
        facts[key] += [Fact("! Look", one, "late") for one in trial.warnings]
        facts[key].append(Fact("! Caution", trial.caution, "closing"))
    rows += [
        Row(
            f"family {one.family}",
            (Cell(one.family), Cell(", ".join(one.products)), Cell(one.says)),
        )
        for one in board.families
    ]
    return Page(
        COLUMNS, rows, "No score and no egg count is written down.\n\nc  look, r  record", facts
    )


def tests(farm: Farm) -> Page:
    """Disease tests and when the next falls, newcomers kept apart, papers to keep."""
    board = farm.screening()
    rows: list[Row] = []
    facts: dict[str, list[Fact]] = {}
    for number, one in enumerate(board.tests):
        key = f"test {number}"
        tone = "late" if one.overdue else "plain"
        due = f"{'▲ overdue' if one.overdue else 'next'} {one.next_test}" if one.next_test else ""
        cells = (
            Cell(one.name, "strong"),
            Cell(
                f"{one.disease}: {one.result} {one.on[:10]}",
                "plain" if one.result == "negative" else "closing",
            ),
            Cell(due, tone),
        )
        rows.append(Row(key, cells, animal=one.animal, name=one.name, record=one.record))
        facts[key] = [
            Fact("Says", one.says),
            *([Fact("Young", one.too_young)] if one.too_young else []),
            Fact("! Caution", board.caution, "closing"),
        ]
    if board.newcomers:
        rows.append(heading("apart", "Kept apart"))
    for newcomer in board.newcomers:
        key = f"apart {newcomer.animal}"
        cells = (
            Cell(newcomer.name, "strong"), Cell(f"until {newcomer.apart_until}", "closing"),
            Cell(f"test again {newcomer.retest_on}"),
        )  # fmt: skip
        rows.append(Row(key, cells, animal=newcomer.animal, name=newcomer.name))
        facts[key] = [Fact("Says", newcomer.says)]
    if board.keeping:
        rows.append(heading("keep", "Papers to keep"))
    for paper in board.keeping:
        cells = (
            Cell(paper.what),
            Cell(f"{paper.records}, until {paper.until}"),
            Cell(paper.says, "dim"),
        )
        rows.append(Row(f"keep {paper.key}", cells))
        facts[f"keep {paper.key}"] = [Fact("Says", paper.says), Fact("Source", paper.source, "dim")]
    return Page(COLUMNS, rows, "No test is written down.\n\nr  record one: 'disease test'", facts)


def bucks(farm: Farm, doe: str) -> Page:
    """All bucks as mates for a doe, the least inbred kids first."""
    rows, facts = [], {}
    for one in farm.bucks(doe):
        kids = f"{one.advice}: kids {one.inbreeding * 100:.3g} % inbred"
        tone = {"ok": "good", "look": "closing", "stop": "late"}.get(one.advice, "plain")
        cells = (
            Cell(f"{one.name} ({one.standing})", "strong"),
            # The verdict first: the sentence behind it is cut off on a small screen.
            Cell(kids, tone),
            Cell(one.reason, "dim"),
        )
        rows.append(Row(one.id, cells, animal=one.id, name=one.name))
        known = (
            f"{one.generations} generations, as good as {one.equivalent_generations:.1f} whole ones"
        )
        facts[one.id] = [Fact(one.advice, one.reason, tone), Fact("Known", known)]
        facts[one.id].append(Fact("Related", f"{one.relationship * 100:.3g} %"))
        facts[one.id] += (
            [Fact("Shared ancestors", ", ".join(one.ancestors))] if one.ancestors else []
        )
        facts[one.id] += [Fact("! Look", said, "late") for said in one.warnings]
    return Page(COLUMNS, rows, "No buck is written down.", facts)


def marks(farm: Farm, ref: str = "") -> Page:
    """The next mark on this laptop, and how far the marks of each animal are."""
    board = farm.marks(ref)
    rows: list[Row] = []
    facts: dict[str, list[Fact]] = {}
    if board.suggestion is not None:
        next_mark = board.suggestion
        said = f"left {next_mark.left or '-'}, right {next_mark.right or '-'}"
        rows.append(
            Row(
                "next",
                (Cell("Next mark", "strong"), Cell(said, "accent"), Cell(next_mark.says, "dim")),
            )
        )
        facts["next"] = [Fact("Suggested until the tattoo is recorded done", next_mark.says)]
        facts["next"] += [
            Fact(f"Heard of {one.device}", one.last_recorded or "never") for one in next_mark.heard
        ]
        facts["next"].append(Fact("! Caution", next_mark.caution, "closing"))
    for one in board.animals:
        told = f"right {one.right or '-'}, left {one.left or '-'}"
        warned = "; ".join(one.warnings)
        cells = (
            Cell(one.name, "strong"),
            Cell(told),
            Cell(warned or one.stage, "late" if warned else "dim"),
        )
        rows.append(Row(one.id, cells, animal=one.id, name=one.name))
        facts[one.id] = [
            Fact("Stage", one.stage),
            *(Fact("! Look", said, "late") for said in one.warnings),
        ]
    return Page(COLUMNS, rows, "No animal is written down.", facts)


def suggested(farm: Farm, ref: str) -> tuple[str, dict[str, str]]:
    """The next mark in a sentence for a form, and its ears as a tattoo's record names them."""
    one = farm.marks(ref).suggestion
    if one is None:
        return "", {}
    heard = "; ".join(
        f"{line.device} last heard {line.last_recorded[:10] or 'never'}" for line in one.heard
    )
    said = f"Next mark here: left {one.left}, right {one.right or '-'}. {heard}".strip()
    return said, {name: text for name, text in (("left", one.left), ("right", one.right)) if text}
