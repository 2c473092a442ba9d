"""Two ends of a session joined by a pretend wire, for tests."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from herdsync.exchange.session import Session
from herdsync.faults import Fault
from tests.exchange.laptops import Laptop

# From the bytes of one turn, the pieces in which they arrive.
Cut = Callable[[bytes], list[bytes]]


def whole(data: bytes) -> list[bytes]:
    return [data]


def bytewise(data: bytes) -> list[bytes]:
    return pieces_of(1)(data)


def pieces_of(size: int) -> Cut:
    return lambda data: [data[at : at + size] for at in range(0, len(data), size)]


@dataclass
class Wire:
    """A calling and an answering end; ``said`` keeps what each put on the wire."""

    calling: Session
    answering: Session
    said: dict[str, bytearray] = field(
        default_factory=lambda: {"calling": bytearray(), "answering": bytearray()}
    )
    faults: list[Fault] = field(default_factory=list)

    def run(self, cut: Cut = whole, most: int | None = None) -> Wire:
        """Carry messages until nobody has more to say, or ``most`` bytes have gone over the wire."""
        left = most if most is not None else 1 << 40
        moved = True
        while moved and left > 0:
            moved = False
            for name, one, other in (
                ("answering", self.answering, self.calling),
                ("calling", self.calling, self.answering),
            ):
                while left > 0 and (data := self._from(one)):
                    moved = True
                    data = data[:left]
                    left -= len(data)
                    self.said[name] += data
                    self._to(other, cut(data))
        return self

    def _from(self, end: Session) -> bytes:
        try:
            return end.send()
        except Fault as fault:
            self.faults.append(fault)
            return end.send()

    def _to(self, end: Session, pieces: list[bytes]) -> None:
        for piece in pieces:
            if end.over:
                return
            try:
                end.receive(piece)
            except Fault as fault:
                self.faults.append(fault)

    @property
    def bytes_moved(self) -> int:
        return sum(len(said) for said in self.said.values())


def wire(caller: Laptop, answerer: Laptop) -> Wire:
    """A wire between two laptops, each of which knows who is at the other end."""
    a, b = caller.ledger, answerer.ledger
    return Wire(
        Session(a, b.key.public, calling=True, clock_ms=1_000),
        Session(b, a.key.public, calling=False, clock_ms=2_000),
    )
