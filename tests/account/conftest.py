"""The invented mill and its plant as the mill file sets it, made once for all these tests."""

from pathlib import Path

import pytest

import ratoon.demo
from ratoon.account.mill import Mill, read_mill


@pytest.fixture(scope="session")
def mill() -> Mill:
    return read_mill(Path(ratoon.demo.__file__).parent / "data" / "mill.toml")


@pytest.fixture(scope="session")
def base(mill: Mill) -> dict[str, float]:
    """Every quantity of the plant as it is set."""
    return mill.plant.solve().values
