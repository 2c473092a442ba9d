"""Laptops for the tests of the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.laptops import Laptops


@pytest.fixture
def laptops(tmp_path: Path) -> Laptops:
    """Laptops without a farm yet."""
    return Laptops.beside(tmp_path)


@pytest.fixture
def farm(laptops: Laptops) -> Laptops:
    """A farm founded on the laptop house."""
    laptops.found()
    return laptops


@pytest.fixture
def pair(laptops: Laptops) -> Laptops:
    """A farm on the laptops house and barn."""
    laptops.pair()
    return laptops
