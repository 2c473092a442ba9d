"""One exchange between two laptops that can talk: bytes in, bytes out, whatever carries them.

    answering end                      calling end
    greeting ->                        <- greeting, frontier (nothing more where the hashes are equal)
    frontier, wants ->                 <- batches, served
    (wants again from the split ->     <- batches, served)
    done ->                            <- wants
    batches, served ->                 <- done

Turns are taken, so neither end ever writes against the other. Each batch is stored in one transaction
before the next is read: a session cut anywhere goes on where it was in the next one. `Done` tells the
frontier that is now had: the acknowledgement. A laptop with damaged entries greets as one that has none,
so that the session goes on where both have the same, and asks for those entries too.
The channel must say truly who is at the other end. Must not know sockets, clocks or files.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from enum import Enum, auto

from herdsync.answers import Setback
from herdsync.exchange import wire
from herdsync.exchange.frontier import (
    TIPS,
    Tip,
    Want,
    answering,
    frontier_hash,
    tips_of,
    wanted,
    wanted_anew,
    wanted_from_the_split,
)
from herdsync.exchange.ledger import Ledger
from herdsync.exchange.load import Load, fill
from herdsync.exchange.threshold import introducer
from herdsync.exchange.unload import unload
from herdsync.exchange.wire import BATCH, DONE, FRONTIER, GREETING, REFUSAL, SERVED, WANTS
from herdsync.faults import BadBytes, Fault, Refused
from herdsync.log.limits import FORMAT_VERSION
from herdsync.meetings import Notice
from herdsync.safe_text import clipped, safe_text
from herdsync.store.carried import Run

# An honest laptop asks once, and once more where a log continued in two copies.
ROUNDS = 2
# So many batches in a row that teach nothing, and the other laptop is only keeping us busy.
IDLE_BATCHES = 64
# What is refused in one session is named up to so many times.
SETBACKS = 100
_HAVE_BYTES = 40


class Phase(Enum):
    """What this end waits for next."""

    GREETED = auto()
    TOLD = auto()
    ASKING = auto()
    SERVING = auto()
    OVER = auto()


class Session:
    """One end. Feed ``receive``, put on the wire what ``send`` answers, until ``over``.

    ``peer`` is the other laptop's device key, proven by the channel. Both raise BadBytes, Refused or, where
    what is stored here is damaged, DamagedFarm; what ``send`` then still answers tells the other end why.
    ``heard`` counts the other end's messages.
    """

    def __init__(self, ledger: Ledger, peer: bytes, *, calling: bool, clock_ms: int) -> None:
        self._ledger = ledger
        self._peer = peer
        self._clock_ms = clock_ms
        self._calling = calling
        self._frames = wire.Frames()
        self._outbox: deque[bytes] = deque()
        self._serving: deque[Iterator[bytes]] = deque()
        self._tips = tips_of(ledger)
        self._anew = wanted_anew(ledger)
        # The log of a laptop that was just let in does not tell yet of who did it.
        self._introduced = introducer(ledger) == peer
        self._their_clock = 0
        self._asked: list[Tip] = []
        self._rounds = 0
        self._rounds_served = 0
        self._idle = 0
        self._phase = Phase.GREETED
        self.refused: list[Setback] = []
        self.noticed: list[Notice] = []
        self.sent = 0
        self.received = 0
        self.unvouched = 0
        self.heard = 0
        self._silent = not calling

    @property
    def over(self) -> bool:
        """Whether both ends have all of each other, as far as either may."""
        return self._phase is Phase.OVER

    @property
    def begun(self) -> bool:
        """Whether the other end has greeted."""
        return self._phase is not Phase.GREETED

    def send(self) -> bytes:
        """The next message to put on the wire; empty where it is the other end's turn.

        Raises Refused where the other laptop was put out of the farm meanwhile.
        """
        with self._telling():
            if self._silent:
                self._silent = False
                self._refuse_outsider()
                self._say(GREETING, self._greeting())
            while not self._outbox and self._serving:
                message = next(self._serving[0], None)
                if message is not None:
                    return message
                self._serving.popleft()
        return self._outbox.popleft() if self._outbox else b""

    def receive(self, data: bytes) -> None:
        """Take the next bytes from the other end. Raises BadBytes or Refused; then the session is over."""
        self._frames.add(data)
        with self._telling():
            while not self.over and (frame := self._frames.next()) is not None:
                self._hear(frame)

    @contextmanager
    def _telling(self) -> Iterator[None]:
        """End the session with a fault, and tell the other end why."""
        try:
            yield
        except Fault as fault:
            self._phase = Phase.OVER
            self._serving.clear()
            self._say(REFUSAL, wire.Refusal(clipped(safe_text(str(fault)), wire.SENTENCE)))
            raise

    def _hear(self, frame: bytes) -> None:
        self.heard += 1
        kind, body = frame[0], frame[1:]
        if kind == REFUSAL:
            why = clipped(safe_text(wire.refusal_in(body)), wire.SENTENCE)
            raise Refused(f"{self._name()} ended the exchange: {why}")
        if self._phase is Phase.GREETED:
            self._greeted(frame)
            return
        heard: dict[tuple[Phase, int], Callable[[bytes], None]] = {
            (Phase.TOLD, FRONTIER): self._told,
            (Phase.ASKING, BATCH): self._batch,
            (Phase.ASKING, SERVED): self._served,
            (Phase.SERVING, WANTS): self._serve,
            (Phase.SERVING, DONE): self._done,
        }
        step = heard.get((self._phase, kind))
        if step is None:
            raise BadBytes("It says something that does not follow from what was said before.")
        step(body)

    def _greeted(self, frame: bytes) -> None:
        if self._calling:
            # Also a laptop of another version is told ours, so that both can say what to update.
            self._say(GREETING, self._greeting())
        greeting = wire.greeting_of(frame)
        if greeting.farm != self._ledger.farm:
            raise BadBytes("It is a laptop of another farm.")
        self._refuse_outsider()
        self._their_clock = greeting.clock
        if greeting.frontier == frontier_hash(self._tips) and not self._anew:
            self._acknowledge(self._tips)
            self._phase = Phase.OVER
            return
        if self._calling:
            self._say(FRONTIER, self._tips)
        self._phase = Phase.TOLD

    def _told(self, body: bytes) -> None:
        tips = wire.frontier_in(body)
        self._note_going_back(tips)
        self._acknowledge(tips)
        self._asked = tips
        if self._calling:
            self._phase = Phase.SERVING
            return
        self._say(FRONTIER, self._tips)
        self._ask([*wanted(self._ledger, tips), *self._anew])

    def _ask(self, wants: list[Want]) -> None:
        """Ask for what is wanted; where that is nothing, say that we are done."""
        room = wire.BATCH_BYTES // _HAVE_BYTES
        asked: list[Want] = []
        for want in wants:
            room -= 1 + len(want.haves)
            if room < 0 or len(asked) == TIPS:
                break
            asked.append(want)
        if asked:
            self._phase = Phase.ASKING
            self._rounds += 1
            self._say(WANTS, asked)
            return
        self._say(DONE, tips_of(self._ledger))
        self._phase = Phase.OVER if self._calling else Phase.SERVING

    def _batch(self, body: bytes) -> None:
        batch = wire.batch_in(body)
        self._refuse_outsider()
        told = unload(batch.runs, batch.pieces, self._ledger.farm)
        taken = self._ledger.take(told.entries, self._name())
        self.received += taken.received
        self.unvouched += taken.unvouched
        self._set_aside(taken.refused)
        self._set_aside(Setback(self._name(), why) for why in told.unread)
        self._idle = 0 if taken.received else self._idle + 1
        if self._idle > IDLE_BATCHES:
            raise BadBytes("It goes on sending what is here already or cannot be read here.")

    def _set_aside(self, setbacks: Iterable[Setback]) -> None:
        """Keep what was refused, each thing once, up to a bound."""
        for one in setbacks:
            if one not in self.refused and len(self.refused) < SETBACKS:
                self.refused.append(one)

    def _served(self, body: bytes) -> None:
        astray = set(wire.ids_in(body))
        again = [tip for tip in self._asked if tip.id in astray]
        if again and self._rounds < ROUNDS:
            self._ask(wanted_from_the_split(self._ledger, again))
        else:
            self._ask([])

    def _serve(self, body: bytes) -> None:
        wants = wire.wants_in(body)
        self._rounds_served += 1
        if self._rounds_served > ROUNDS:
            raise BadBytes("It asks again and again.")
        runs, astray = answering(self._ledger, wants)
        self._serving.append(self._batches(runs, astray))

    def _batches(self, runs: list[Run], astray: list[bytes]) -> Iterator[bytes]:
        entries = self._ledger.entries(runs)
        for load in fill(entries, wire.BATCH_BYTES, wire.BATCH_ENTRIES):
            # Between two batches the farm may have put the other laptop out.
            self._refuse_outsider()
            self.sent += len(load.pieces)
            yield _batch_of(load)
        yield wire.framed(SERVED, astray)

    def _done(self, body: bytes) -> None:
        self._acknowledge(wire.frontier_in(body))
        if self._calling:
            self._ask([*wanted(self._ledger, self._asked), *self._anew])
        else:
            self._phase = Phase.OVER

    def _acknowledge(self, tips: list[Tip]) -> None:
        frontier = [(tip.device, tip.sequence, tip.id) for tip in tips]
        self._ledger.heard(self._peer, frontier, self._their_clock)

    def _note_going_back(self, tips: list[Tip]) -> None:
        """Say where the other laptop has less of its own log than it had before: it was restored."""
        earlier = self._ledger.last_heard().get(self._peer)
        had = [one for one in earlier[1] if one[0] == self._peer] if earlier else []
        have = max((tip.sequence for tip in tips if tip.device == self._peer), default=-1)
        lost = max((sequence for _, sequence, _ in had), default=-1) - have
        if lost > 0:
            why = (
                f"It had {lost} more of its own entries when last heard: it was restored or copied. "
                "What is here goes back to it; it must join afresh before it writes."
            )
            self.noticed.append(Notice(self._name(), why))

    def _refuse_outsider(self) -> None:
        members = self._ledger.members()
        if self._peer in members.by_key:
            self._introduced = False
        elif not self._introduced or self._peer in members.removed:
            raise Refused(f"{self._name()} is not in the farm, or not any more.")

    def _name(self) -> str:
        member = self._ledger.members().by_key.get(self._peer)
        return f"laptop {safe_text(member.device)}" if member else "The other laptop"

    def _greeting(self) -> wire.Greeting:
        hash_of = frontier_hash([] if self._anew else self._tips)
        return wire.Greeting(self._ledger.farm, FORMAT_VERSION, self._clock_ms, hash_of)

    def _say(self, kind: int, message: wire.Message) -> None:
        self._outbox.append(wire.framed(kind, message))


def _batch_of(load: Load) -> bytes:
    pieces = [bytes(piece) for piece in load.pieces]
    return wire.framed(BATCH, wire.Batch(load.runs, pieces))
