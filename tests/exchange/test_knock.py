"""Pairing over the network, the whole way through the door: proven by the code alone, told by six digits."""

from __future__ import annotations

import queue
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from herdsync import founding
from herdsync.exchange import knock
from herdsync.exchange.addresses import Address
from herdsync.exchange.knock import REQUEST, promise_of
from herdsync.exchange.pairing import code_of, pend
from herdsync.farm import Farm
from herdsync.faults import Refused
from herdsync.meetings import Exchanged, Joining, Visited
from herdsync.wall import Wall
from tests.exchange.laptops import entropy_of
from tests.exchange.porch import HERE, visiting

WALL = Wall()


@dataclass
class Home:
    """A founded farm whose steward's laptop listens, and folders for laptops that come."""

    folder: Path
    farm: Farm
    address: str
    visits: list[Visited] = field(default_factory=list)

    def join(self, device: str = "barn", keeper: str = "Ravi", at: str = "") -> Joining:
        folder = self.folder / device
        return founding.join(folder, WALL, at or self.address, keeper=keeper, device=device)

    def come(self, device: str = "barn", at: str = "") -> Exchanged:
        came = founding.exchange_joining(self.folder / device, WALL, at or self.address)
        assert came is not None
        return came


@contextmanager
def listening(folder: Path, name: str = "Quillmoor Dairy") -> Iterator[Home]:
    founding.found(folder / "house", WALL, name=name, keeper="Oda", device="house")
    with Farm.open(folder / "house", WALL) as farm:
        home = Home(folder, farm, "")
        with farm.listening(0, home.visits.append, HERE) as port:
            home.address = f"{HERE}:{port}"
            yield home


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Home]:
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))
    with listening(tmp_path) as one:
        yield one


def test_a_laptop_is_let_in_over_the_network(home: Home) -> None:
    home.farm.record("note", {"text": "from the house"})
    joining = home.join()
    assert joining.request == home.address
    with pytest.raises(founding.NotAdmitted, match="not been admitted yet"):
        home.come()
    (waiting,) = home.farm.admit().waiting
    assert (waiting.keeper, waiting.device, waiting.check) == ("Ravi", "barn", joining.check)
    (visit,) = home.visits
    assert visit.who == f"Ravi's laptop 'barn' from {HERE}" and visit.check == joining.check
    admission = home.farm.admit(code=joining.code, check=joining.check)
    assert [one.device for one in admission.admitted] == ["barn"] and admission.waiting == []
    came = home.come()
    assert came.joined == "Quillmoor Dairy" and came.told == [] and came.received > 1
    with Farm.open(home.folder / "barn", WALL) as barn:
        assert len(barn.devices()) == 2 and barn.read_only == ""
        barn.record("note", {"text": "from the barn"})
        assert barn.exchange(home.address).sent == 1
    assert home.farm.admit().waiting == []


def test_the_check_is_six_digits_and_new_each_time(home: Home) -> None:
    first, second = home.join(), home.join()
    assert first.code == second.code
    for one in (first, second):
        assert len(one.check) == 7 and one.check.replace(" ", "").isdigit()
    # A second asking replaces the first: its digits are the ones that count.
    (waiting,) = home.farm.admit().waiting
    assert waiting.check == second.check


def test_wrong_codes_are_counted_and_the_third_voids(home: Home) -> None:
    joining = home.join()
    for number in range(3):
        wrong = code_of(entropy_of(f"wrong {number}")(10))
        with pytest.raises(Refused, match="belongs to no request"):
            home.farm.admit(code=wrong)
    with pytest.raises(Refused, match="void"):
        home.farm.admit(code=joining.code, check=joining.check)
    with pytest.raises(founding.NotAdmitted):
        home.come()
    assert len(home.farm.devices()) == 1


def test_other_digits_let_nobody_in_and_cost_no_try(home: Home) -> None:
    joining = home.join()
    other = f"{(int(joining.check.replace(' ', '')) + 1) % 1_000_000:06d}"
    for _ in range(4):
        with pytest.raises(Refused, match="nobody was let in"):
            home.farm.admit(code=joining.code, check=other)
    assert len(home.farm.devices()) == 1
    grouped = f"{joining.check[:3]}{joining.check[4:]}"
    assert home.farm.admit(code=joining.code, check=grouped).admitted


def test_two_who_ask_at_once_have_their_own_code_and_digits(home: Home) -> None:
    asked: dict[str, Joining] = {}

    def ask(device: str) -> None:
        asked[device] = home.join(device, device.title())

    threads = [threading.Thread(target=ask, args=(one,)) for one in ("barn", "shed")]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert {one.device: one.check for one in home.farm.admit().waiting} == {
        device: joining.check for device, joining in asked.items()
    }
    with pytest.raises(Refused, match="nobody was let in"):
        home.farm.admit(code=asked["barn"].code, check=asked["shed"].check)
    (left,) = home.farm.admit(code=asked["shed"].code, check=asked["shed"].check).waiting
    assert left.device == "barn"
    assert home.come("shed").joined
    with pytest.raises(founding.NotAdmitted):
        home.come("barn")
    home.farm.admit(code=asked["barn"].code)
    assert home.come("barn").joined
    assert {one.device for one in home.farm.devices()} == {"house", "barn", "shed"}


def test_a_farm_that_is_not_the_one_meant_cannot_take_the_laptop(
    home: Home, tmp_path: Path
) -> None:
    with listening(tmp_path / "elsewhere", "Another Farm") as other:
        joining = home.join(at=other.address)
        # The code went to the farm that was meant, where nobody has asked.
        with pytest.raises(Refused, match="no request to join"):
            home.farm.admit(code=joining.code)
        with pytest.raises(Refused, match="belongs to no request"):
            other.farm.admit(code=code_of(entropy_of("guess")(10)))
        with pytest.raises(founding.NotAdmitted):
            home.come(at=other.address)
        with pytest.raises(Refused, match="no such request"):
            home.come()


def test_a_copied_request_opens_nothing_for_who_copied_it(home: Home, tmp_path: Path) -> None:
    """What lies on a carrier can be knocked with by anyone; keys and code stay with its laptop."""
    stick = tmp_path / "stick"
    stick.mkdir()
    joining = home.join(at=str(stick))
    (left,) = stick.iterdir()
    raw = left.read_bytes()
    port = int(home.address.rpartition(":")[2])
    with visiting(port) as channel:
        channel.say(knock.ASK, promise_of(bytes(32), raw))
        channel.hear_only(knock.NUMBER, 32)
        channel.say(REQUEST, bytes(32) + raw)
        channel.hear_only(knock.TAKEN, 0)
    home.farm.admit(code=joining.code)
    thief = pend("Ravi", "barn", 0, entropy_of("thief"))
    with pytest.raises(Refused, match="no such request"):
        knock.fetch(Address(HERE, port), thief)
    assert home.come().joined


def test_a_copied_key_joins_twice_and_shows_as_two_copies(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The new laptop's disk was copied before it came: both come in, and the steward sees a fork."""
    joining = home.join()
    home.farm.admit(code=joining.code, check=joining.check)
    shutil.copytree(home.folder / "keys", home.folder / "copied-keys")
    home.come()
    (home.folder / "barn").rename(home.folder / "barn one")
    for name, keys in (("barn one", "keys"), ("barn", "copied-keys")):
        with monkeypatch.context() as patch:
            patch.setenv("HERDSYNC_KEYS", str(home.folder / keys))
            if name == "barn":
                home.come()
            with Farm.open(home.folder / name, WALL) as barn:
                barn.record("note", {"text": f"from {name}"})
                if name == "barn":
                    assert barn.exchange(home.address).told == []
    with Farm.open(home.folder / "barn one", WALL) as barn:
        barn.exchange(home.address)
    assert sorted(one.branches for one in home.farm.devices()) == [1, 2]
    (told,) = home.farm.verify().forks
    assert "Ravi's laptop 'barn' continued in 2 copies" in told


def test_only_the_stewards_laptop_takes_requests(home: Home) -> None:
    joining = home.join()
    home.farm.admit(code=joining.code, check=joining.check)
    home.come()
    with Farm.open(home.folder / "barn", WALL) as barn:
        said: queue.Queue[Visited] = queue.Queue()
        with barn.listening(0, said.put, HERE) as port:
            with pytest.raises(Refused, match="steward"):
                home.join("shed", "Jun", at=f"{HERE}:{port}")
            refused = said.get(timeout=20)
        assert "steward" in refused.why and refused.check == ""


def test_a_later_steward_lets_in_whom_its_founder_never_met(home: Home) -> None:
    """The new laptop's own log tells of the founder alone; the code vouches for who let it in."""
    joining = home.join()
    home.farm.admit(code=joining.code, check=joining.check)
    home.come()
    with Farm.open(home.folder / "barn", WALL) as barn:
        home.farm.hand_over("barn")
        barn.exchange(home.address)
        with barn.listening(0, lambda visit: None, HERE) as port:
            at = f"{HERE}:{port}"
            asked = home.join("shed", "Jun", at=at)
            barn.admit(code=asked.code, check=asked.check)
            came = home.come("shed", at=at)
            assert came.joined == "Quillmoor Dairy" and came.told == []
    with Farm.open(home.folder / "shed", WALL) as shed:
        assert {one.device for one in shed.devices()} == {"house", "barn", "shed"}
