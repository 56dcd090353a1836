"""The invented days of cane, made once each."""

import importlib.util
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

_spec = importlib.util.spec_from_file_location(
    "invented_cane", Path(__file__).with_name("invented.py")
)
assert _spec and _spec.loader
_invented = sys.modules.setdefault("invented_cane", importlib.util.module_from_spec(_spec))
_spec.loader.exec_module(_invented)
_make = cache(_invented.make_day)


@pytest.fixture(scope="session")
def invented_cane() -> Any:
    """The module that makes invented days: its rules and its maker."""
    return _invented


@pytest.fixture(scope="session")
def cane_of() -> Callable[[int], Any]:
    """An invented day by its seed; not to be changed by a test."""
    return _make
