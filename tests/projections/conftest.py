"""What the tests of the projections begin with."""

from __future__ import annotations

import pytest

from tests.farmyard import Yard


@pytest.fixture
def yard() -> Yard:
    """Two laptops of a farm that nothing is written on."""
    return Yard()


@pytest.fixture
def agate(yard: Yard) -> bytes:
    """A grown doe there."""
    return yard.animal("Agate", sex="doe", born="2020-03-01")
