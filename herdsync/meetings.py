"""Frozen answers on partners: asking to join, letting in, what an exchange moved, refused and noticed.

As in ``herdsync.answers``: more fields may be added, none renamed. Shapes only, no rules.
"""

from __future__ import annotations

from msgspec import Struct

from herdsync.answers import Setback


class Joining(Struct, frozen=True, omit_defaults=True):
    """A request left on a carrier; ``code`` is read out to the steward.

    Over a network also ``check``, and there is what a ``picture`` (QR) of the request says.
    """

    request: str
    code: str
    check: str = ""
    picture: str = ""


class Waiting(Struct, frozen=True):
    """One device that asks to join; ``check``: over the network, the digits its screen must show."""

    keeper: str
    device: str
    asked: str
    check: str = ""


class Admission(Struct, frozen=True):
    """Who waits on a carrier and whom this run admitted."""

    waiting: list[Waiting]
    admitted: list[Waiting]


class Notice(Struct, frozen=True):
    """What an exchange noticed of a laptop or carrier, and what it means; nothing was refused."""

    what: str
    why: str

    @property
    def said(self) -> str:
        """The sentence for the keeper."""
        return f"Noticed: {self.what}. {self.why}"


class Exchanged(Struct, frozen=True):
    """What one exchange moved; ``only_here``: entries that no other laptop is known to have yet.

    ``refused``: what was not taken or could not be left; ``noticed``: what was told of laptops and carriers.
    """

    sent: int
    received: int
    unvouched: int
    refused: list[Setback]
    conflicts: int
    joined: str = ""
    only_here: int = 0
    noticed: list[Notice] = []

    @property
    def told(self) -> list[str]:
        """Every sentence for the keeper: what was refused, then what was noticed."""
        return [one.said for one in self.refused] + [one.said for one in self.noticed]


class Visited(Struct, frozen=True):
    """Another laptop called: what moved, why it was refused, or (``check``) the digits it asks with."""

    who: str
    why: str
    moved: Exchanged | None
    check: str = ""


class Turned(Struct, frozen=True):
    """A laptop that called over the network and was refused: who, why, and when last."""

    who: str
    why: str
    at: str
