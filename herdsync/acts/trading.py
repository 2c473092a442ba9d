"""The door's word of the trade: marks, holds, medicine, worms, breeding, milk, tests. Only reads."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

from herdsync import reports
from herdsync.acts.reckoning import Reckoning
from herdsync.faults import Refused
from herdsync.kinds.on import parse_on
from herdsync.projections import moments
from herdsync.projections.breeding import buck_lines
from herdsync.projections.cupboard import medicine_board
from herdsync.projections.egg_trials import family_lines, trial_lines
from herdsync.projections.held import held_animal, held_animals
from herdsync.projections.herd import Herd
from herdsync.projections.keeping import keeping_lines
from herdsync.projections.kidding_board import kidding_lines
from herdsync.projections.lactations import MILK_CAUTION, lactation_lines
from herdsync.projections.marks import birth_year, mark_lines, suggestion
from herdsync.projections.milk import milk_line, milk_lines
from herdsync.projections.moments import clock_text
from herdsync.projections.screenings import SCREENING_CAUTION, newcomer_lines, test_lines
from herdsync.projections.worms import pale_share, worm_line, worm_lines
from herdsync.store.view import View
from herdsync.trade.identity import FIRST_YEAR, LAST_YEAR
from herdsync.trade.parasites import EYELID_CAUTION


class Trading(Reckoning):
    """What the records say in the terms of the trade."""

    def marks(self, ref: str = "", year: int | None = None) -> reports.MarkBoard:
        """The next mark for a year on this laptop, and the marks of one animal or the whole herd.

        The year is the animal's birth year, else this one. Raises Refused where the laptop's
        numbers are used up.
        """
        if year is not None and not FIRST_YEAR <= year <= LAST_YEAR:
            raise Refused(f"{year} is no year of a tattoo.", f"Give {FIRST_YEAR} to {LAST_YEAR}.")
        with self._herd() as herd, self._looking() as (view, _):
            goats = [self._goat(herd, ref)] if ref else herd.in_walk_order()
            today = herd.look.today
            wanted = year or (birth_year(goats[0], today) if ref else today.year)
            try:
                next_mark = suggestion(herd, wanted, self.device_name, self._heard(view, herd))
            except ValueError as fault:
                raise Refused(
                    f"No number can be suggested: {fault}.",
                    "Set tattoo-share, such as house=1-49,barn=50-99.",
                ) from fault
            return reports.MarkBoard(next_mark, mark_lines(herd, goats))

    def _heard(self, view: View, herd: Herd) -> list[reports.HeardLine]:
        """The newest entry here of every other laptop that writes."""
        lines = []
        for key, member in view.members().by_key.items():
            if key == self._store.device or member.role == "reader":
                continue
            tips = [view.log.full(chain.tip) for chain in view.log.chains.of_device(key)]
            clocks = [entry.header.clock for entry in tips if entry is not None]
            last = clock_text(max(clocks), herd.look.zone) if clocks else ""
            lines.append(reports.HeardLine(member.keeper, member.device, last))
        return sorted(lines, key=lambda line: (line.keeper, line.device))

    def held(self, ref: str = "") -> list[reports.HeldAnimal]:
        """Every animal that may not do something yet, with milkings to discard; or one animal."""
        with self._herd() as herd:
            if ref:
                return [held_animal(herd, self._goat(herd, ref))]
            return held_animals(herd, herd.in_walk_order())

    def medicine(self) -> reports.MedicineBoard:
        """The medicines on the shelf and the courses under way."""
        with self._herd() as herd:
            return medicine_board(herd)

    def worms(self, ref: str = "", trial: str = "") -> reports.WormBoard:
        """Eyelid scores, condition and egg counts; reduction tests; each family's history."""
        with self._herd() as herd:
            trials = trial_lines(herd)
            families = family_lines(trials)
            if trial:
                wanted = trial.strip().casefold()
                trials = [line for line in trials if line.trial.casefold() == wanted]
                if not trials:
                    raise Refused(
                        f"No egg count names the trial '{trial[:60]}'.",
                        "Record egg-count with trial=..., sampled=before, after or control.",
                    )
            if ref:
                goat = self._goat(herd, ref)
                animals = [worm_line(herd, goat, pale_share(herd))]
            else:
                animals = worm_lines(herd, herd.in_walk_order())
            return reports.WormBoard(animals, trials, families, EYELID_CAUTION)

    def bucks(self, doe: str, on: str = "") -> list[reports.BuckLine]:
        """All bucks on record as mates for a doe, the least inbred kids first. Raises Refused."""
        with self._herd() as herd:
            return buck_lines(herd, self._goat(herd, doe), _day(herd, on))

    def kidding(self) -> list[reports.KiddingLine]:
        """The does that are mated or bred, the next to kid first."""
        with self._herd() as herd:
            return kidding_lines(herd)

    def milk_board(self, ref: str = "", days: int = 7) -> reports.MilkBoard:
        """Where the milk of the last days went, and the lactations; of one doe all of hers."""
        with self._herd() as herd:
            last = herd.look.today
            first = date.fromordinal(max(1, last.toordinal() - days + 1))
            if ref:
                doe = self._goat(herd, ref)
                if not doe.female:
                    raise Refused(f"{doe.name} is no doe.", "Name a doe.")
                does = [milk_line(herd, doe, first, last)]
                return reports.MilkBoard(does, lactation_lines([doe], every=True), MILK_CAUTION)
            females = [goat for goat in herd.in_walk_order() if goat.female]
            lines = milk_lines(herd, first, last)
            return reports.MilkBoard(lines, lactation_lines(females), MILK_CAUTION)

    def screening(self, prevalence_percent: Fraction | None = None) -> reports.ScreeningBoard:
        """Disease tests with their next day, newcomers kept apart, papers that must be kept."""
        if prevalence_percent is not None and not 0 <= prevalence_percent <= 100:
            raise Refused("A prevalence lies between 0 and 100 per cent.", "Write such as 5.")
        with self._herd() as herd:
            common = None if prevalence_percent is None else prevalence_percent / 100
            return reports.ScreeningBoard(
                test_lines(herd, common),
                newcomer_lines(herd),
                keeping_lines(herd),
                SCREENING_CAUTION,
            )


def _day(herd: Herd, on: str) -> date:
    look = herd.look
    told = parse_on(on, look.moment, look.zone) if on else look.today.isoformat()
    return moments.first_day(told, look.zone)
