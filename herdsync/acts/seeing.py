"""The door's glances: what is drawn of an animal, and what stands out in the sickroom. Only reads."""

from __future__ import annotations

from typing import TYPE_CHECKING

from herdsync.acts.looking import Looking

if TYPE_CHECKING:
    from herdsync.sights import Milking, Sickroom, Sights


class Seeing(Looking):
    """What a keeper would rather see than read."""

    def sights(self, ref: str) -> Sights:
        """Weights, milk, scurs and ancestors of one animal, for drawing. Raises Refused."""
        # Asked for only by who looks at pictures: no command pays for it at its start.
        from herdsync.projections.sights import sights

        with self._herd() as herd:
            return sights(herd, self._goat(herd, ref))

    def sickroom(self) -> Sickroom:
        """Readings and doses of late that ask for a look, and the last use of each product."""
        from herdsync.projections.sickroom import sickroom

        with self._herd() as herd:
            return sickroom(herd)

    def milkings(self, days: int = 2) -> list[Milking]:
        """Every milking of the last days, oldest first, each with whether its milk was held."""
        from herdsync.projections.milkings import milkings

        with self._herd() as herd:
            return milkings(herd, days)
