"""Signatures on which libraries differ: the verdicts are pinned, so that an upgrade which changes one fails.

Test vectors published with Chalkias, Garillot, Nikolaenko, "Taming the many EdDSAs" (2020), numbered as
there; what each is about in a few words, from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from herdsync.faults import BadBytes
from herdsync.log.signing import entry_verifies, refuse_weak_key, verifies
from tests.log.plain import key_of, written


@dataclass(frozen=True)
class Edge:
    """``key``: whether the key may be admitted; ``holds``: whether the signature verifies under it."""

    why: str
    message: str
    public: str
    signature: str
    key: bool
    holds: bool


WEAK = "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa"
PLAIN = "f7badec5b8abeaf699583992219b7b223f1df3fbbea919844e3f7c554a43dd43"
MIXED = "cdb267ce40c5cd45306fa5d2f29731459387dbf9eb933b7bd5aed9a765b88d4d"
OTHER = "442aad9f089ad9e14647b1ef9099a1ff4798d78589e66f28eca69c11f582a623"
SAID = "9bd9f44f4dcc75bd531b56b2cd280b0bb38fc1cd6d1230e14861d861de092e79"
ALSO = "e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec4011eaccd55b53f56c"
LONG = "85e241a07d148b41e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec40"

EDGES = (
    Edge("0: key and R of small order, S = 0",
         "8c93255d71dcab10e8f379c26200f3c7bd5f09d9bc3068d3ef4edeb4853022b6", WEAK,
         "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a" + "00" * 32, False, True),
    Edge("1: key of small order, R of mixed order", SAID, WEAK,
         PLAIN + "a5bb704786be79fc476f91d3f3f89b03984d8068dcf1bb7dfc6637b45450ac04", False, True),
    Edge("2: R of small order",
         "aebf3f2601a0c8c5d39cc7d8911642f740b78168218da8471772b35f9d35b9ab", PLAIN,
         WEAK + "8c4bd45aecaca5b24fb97bc10ac27ac8751a7dfe1baff8b953ec9f5833ca260e", True, True),
    Edge("3: key and R of mixed order", SAID, MIXED,
         "9046a64750444938de19f227bb80485e92b83fdb4b6506c160484c016cc1852f"
         "87909e14428a7a1d62e9f22f3d3ad7802db02eb2e688b6c52fcd6648a98bd009", True, True),
    Edge("4: holds only where the equation is multiplied by eight", ALSO, MIXED,
         "160a1cb0dc9c0258cd0a7d23e94d8fa878bcb1925f2c64246b2dee1796bed512"
         "5ec6bc982a269b723e0668e540911a9a6a58921d6925e434ab10aa7940551a09", True, False),
    Edge("5: holds only where eight times the hash is reduced first", ALSO, MIXED,
         "21122a84e0b5fca4052f5b1235c80a537878b38f3142356b2c2384ebad4668b7"
         "e40bc836dac0f71076f9abe3a53f9c03c1ceeeddb658d0030494ace586687405", True, False),
    Edge("6: S beyond the order", LONG, OTHER,
         "e96f66be976d82e60150baecff9906684aebb1ef181f67a7189ac78ea23b6c0e"
         "547f7690a0e2ddcd04d87dbc3490dc19b3b3052f7ff0538cb68afb369ba3a514", True, False),
    Edge("7: S far beyond the order", LONG, OTHER,
         "8ce5b96c8f26d0ab6c47958c9e68b937104cd36e13c33566acd2fe8d38aa1942"
         "7e71f98a473474f2f13f06f97c20d58cc3f54b8bd0d272f42b695dd7e89a8c22", True, False),
    Edge("8: R in a second form, reduced before it is hashed",
         "fdaebc429f4a735932a160da1301080c13280eea8bc280d1b392c6b9e6ba3a5a", PLAIN,
         "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f"
         "454d370c8d9fc323a41450f8d513eafeb5b0697390c1e505a0d4ddc71f566607", True, False),
    Edge("9: R in a second form, hashed as it is",
         "84b698d39be126ff55fe45079e6c8bf64a0d7db6994560b4e96b7021eb39c1a1", PLAIN,
         "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f"
         "084d5b99c2a9463d9c8bd5026916996984eeec87ddf1d3be329006ace1b37b09", True, False),
)  # fmt: skip


@pytest.mark.parametrize("edge", EDGES, ids=lambda one: one.why.split(":")[0])
def test_the_verdict_on_an_edge_is_pinned(edge: Edge) -> None:
    public, signature, message = (
        bytes.fromhex(part) for part in (edge.public, edge.signature, edge.message)
    )
    assert verifies(public, signature, message) is edge.holds
    if edge.key:
        refuse_weak_key(public)
    else:
        with pytest.raises(BadBytes, match="small order"):
            refuse_weak_key(public)


def test_under_no_key_that_may_be_admitted_does_a_second_form_hold() -> None:
    # What holds under an admitted key here has one form: S below the order, R as it was hashed.
    order = 2**252 + 27742317777372353535851937790883648493
    for edge in EDGES:
        if edge.key and edge.holds:
            assert int.from_bytes(bytes.fromhex(edge.signature)[32:], "little") < order


def test_an_entry_is_its_own_devices() -> None:
    key = key_of("house")
    entry = written(key.public, sign=key.sign)
    assert entry_verifies(entry) is True
    assert entry_verifies(written(key_of("barn").public, sign=key.sign)) is False
    assert entry_verifies(written(key.public)) is False
