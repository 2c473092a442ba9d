"""Figures drawn over days: points with a usual band, and a bar a day. Pure; shape tells before colour."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from tui.pages.canvas import Canvas, Line, Piece, legend, one

Point = tuple[float, float]
Band = Sequence[tuple[float, float, float]]  # day, least, most
LEFT = 7
SERIES_MARKS = "●abcdefgh"
SERIES_TONES = ("strong", "accent", "closing", "good", "open", "held", "late", "accent", "closing")
EIGHTHS = " ▁▂▃▄▅▆▇█"
BAND_SIGN, TRACE_SIGN = "░", "·"
HELD_SIGNS = {"held": "▒", "part": "▓"}
FEWEST_COLUMNS, FEWEST_ROWS = 10, 4
WIDEST_BAR = 8


def points(
    series: Mapping[str, Sequence[Point]], width: int, height: int, unit: str,
    say: Callable[[float], str] = "{:g}".format, band: Band = (),
) -> list[Line]:  # fmt: skip
    """Every series with its own mark (the first ●, others a letter) over axes from its least to most.

    The least of the upright axis is nought, so that no small change looks great. The band lies under
    them, and a trace joins the points of the first series. Where two fall on one place the first stays.
    ``say`` tells a day at the ends of the lower axis.
    """
    every = [point for told in series.values() for point in told]
    if not every:
        return [one("No figure is written down.", "dim")]
    marks = [mark for mark, told in zip(SERIES_MARKS, series, strict=False) if series[told]]
    keys: list[Piece] = [
        (f"{mark} {name}", SERIES_TONES[SERIES_MARKS.index(mark)])
        for mark, name in zip(SERIES_MARKS, series, strict=False)
        if mark in marks
    ]
    first, last = min(x for x, _ in every), max(x for x, _ in every)
    within = [one for one in band if first <= one[0] <= last]
    keys += [(f"{BAND_SIGN} usual", "dim")] if within else []
    said = legend(keys, width - LEFT)
    rows = max(FEWEST_ROWS, height - 2 - len(said))
    plot = Plot(
        Canvas(max(FEWEST_COLUMNS, width - LEFT - 1), rows),
        first, last, max([*(y for _, y in every), *(high for _, _, high in within)]) or 1.0,
    )  # fmt: skip
    plot.shade(within)
    plot.trace(next(iter(series.values())))
    told = list(zip(SERIES_MARKS, SERIES_TONES, series.values(), strict=False))
    for mark, tone, figures in reversed(told):
        for x, y in figures:
            plot.canvas.put(plot.column(x), plot.row(y), mark, tone)
    ends = (say(first) if first != last else "", say(last))
    return [*plot.framed(unit, ends), *([(" " * LEFT, "plain"), *line] for line in said)]


def bars(
    days: Sequence[tuple[int, float, str]], tests: Sequence[Point], width: int, height: int,
    unit: str, say: Callable[[float], str] = "{:g}".format,
) -> list[Line]:  # fmt: skip
    """A bar a day (day, amount, mark), several days in one bar where there is no room for each.

    A bar of held days is filled otherwise and stands over a ■; tests are a T at their height.
    """
    if not days and not tests:
        return [one("No figure is written down.", "dim")]
    at_days = [day for day, _, _ in days] + [round(day) for day, _ in tests]
    first, last = min(at_days), max(at_days)
    columns = max(FEWEST_COLUMNS, width - LEFT - 1)
    step = max(1, -(-(last - first + 1) // columns))
    most = max([amount for _, amount, _ in days] + [amount for _, amount in tests]) or 1.0
    keys: list[Piece] = [("█ milk of the day" if step == 1 else f"█ mean of {step} days", "good")]
    if any(mark for _, _, mark in days):
        keys.append(("▒ ■ held, not for sale   ▓ held in part", "held"))
    keys += [("T test day", "accent")] if tests else []
    said = legend(keys, width - LEFT)
    rows = max(FEWEST_ROWS, height - 2 - len(said))
    count = (last - first) // step + 1
    wide = max(1, min(WIDEST_BAR, columns // count))
    plot = Plot(Canvas(columns, rows), first, first + step * (columns // wide), most)
    marked: list[int] = []
    for place in range(count):
        group = [(amount, mark) for day, amount, mark in days if (day - first) // step == place]
        if group:
            mark = _mark([one for _, one in group])
            mean = sum(amount for amount, _ in group) / len(group)
            marked += [place * wide] if mark else []
            _bar(plot, place * wide, wide, mean, mark)
    for day, amount in tests:
        plot.canvas.put((round(day) - first) // step * wide, plot.row(amount), "T", "accent")
    ends = (say(first) if first != last else "", say(last))
    return [
        *plot.framed(unit, ends, marked, count * wide),
        *([(" " * LEFT, "plain"), *line] for line in said),
    ]


def _mark(marks: Sequence[str]) -> str:
    return "held" if "held" in marks else "part" if "part" in marks else ""


def _bar(plot: Plot, column: int, wide: int, amount: float, mark: str) -> None:
    """One bar from the axis up; its top an eighth of a cell exact where it is not held."""
    rows = plot.canvas.height
    eighths = max(1, round(amount / plot.most * rows * 8))
    tone = "held" if mark else "good"
    breadth = wide - (wide > 1)
    for up in range(-(-eighths // 8)):
        fill = EIGHTHS[min(8, eighths - up * 8)] if not mark else HELD_SIGNS[mark]
        plot.canvas.put(column, rows - 1 - up, fill * breadth, tone)


@dataclass(frozen=True)
class Plot:
    """Axes over a canvas: from the first to the last day, from nought to the most."""

    canvas: Canvas
    first: float
    last: float
    most: float

    def column(self, x: float) -> int:
        """The column of a day."""
        return round((x - self.first) / ((self.last - self.first) or 1) * (self.canvas.width - 1))

    def row(self, y: float) -> int:
        """The row of an amount; 0 is the top."""
        return self.canvas.height - 1 - round(y / self.most * (self.canvas.height - 1))

    def shade(self, band: Band) -> None:
        """Fill between least and most, column by column, between the days the band is told of."""
        for (day, least, most), (later, more_least, more_most) in pairwise(band):
            here, there = self.column(day), self.column(later)
            for column in range(here, there + 1):
                share = (column - here) / ((there - here) or 1)
                low, high = least + (more_least - least) * share, most + (more_most - most) * share
                for row in range(self.row(high), self.row(low) + 1):
                    self.canvas.put(column, row, BAND_SIGN, "dim")

    def trace(self, figures: Sequence[Point]) -> None:
        """Join the points of one series with dots."""
        for (x, y), (next_x, next_y) in pairwise(figures):
            here, there = self.column(x), self.column(next_x)
            for column in range(here + 1, there):
                share = (column - here) / (there - here)
                row = self.row(y + (next_y - y) * share)
                self.canvas.put(column, row, TRACE_SIGN, "strong")

    def framed(
        self, unit: str, ends: tuple[str, str], marked: Sequence[int] = (), reach: int = 0
    ) -> list[Line]:
        """The canvas with its axes and what stands at the ends of the lower one.

        ``marked`` columns carry a ■ there; ``reach``: the columns used, where not all are.
        """
        height, width = self.canvas.height, self.canvas.width
        lines: list[Line] = []
        for row, pieces in enumerate(self.canvas.lines()):
            share = (height - 1 - row) / (height - 1)
            label = f"{self.most * share:.1f}" if row in (0, height // 2, height - 1) else ""
            lines.append([(f"{label:>{LEFT - 1}} │", "dim"), *pieces])
        axis = "".join("■" if column in marked else "─" for column in range(width))
        lines.append([(f"{unit:>{LEFT - 1}} └", "dim"), (axis, "held" if marked else "dim")])
        left, right = ends
        gap = (reach or width) - len(left) - len(right)
        lines.append(one(" " * LEFT + left + " " * max(1, gap) + right, "dim"))
        return lines
