"""The one door to a farm: everything a screen, a command or a story asks of it.

One call, one act: read what the keeper typed, check it, sign it, store it, merge it, answer. Looking
never writes. Who only looks, or only records, may open that half of the door alone: less is loaded.
Its parts: `acts.looking` (reading), `acts.reckoning` (sums), `acts.trading` (the trade),
`acts.acting` (writing), `acts.foreseeing` (trials), `acts.planning` (the care plan tried and
accepted), `acts.meeting` (exchange and admission),
`acts.stewarding` (authority), `acts.papering` (papers), `acts.vouching` (checks,
proofs, backups).
"""

from __future__ import annotations

from herdsync.acts.foreseeing import Foreseeing
from herdsync.acts.meeting import Meeting
from herdsync.acts.papering import Papering
from herdsync.acts.planning import Planning
from herdsync.acts.stewarding import Stewarding
from herdsync.acts.trading import Trading
from herdsync.acts.vouching import Vouching


class Farm(Papering, Trading, Foreseeing, Planning, Stewarding, Meeting, Vouching):
    """One farm on this device, open (see `acts.door.Door.open`)."""
