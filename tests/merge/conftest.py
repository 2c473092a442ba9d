"""What the tests of the merge begin with."""

from __future__ import annotations

import pytest

from tests.farmyard import Yard


@pytest.fixture
def yard() -> Yard:
    """Two laptops of a farm that nothing is written on."""
    return Yard()
