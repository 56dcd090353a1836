"""The invented days, by name, for the tests of sheets."""

import importlib.util
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

_spec = importlib.util.spec_from_file_location("invented", Path(__file__).with_name("invented.py"))
assert _spec and _spec.loader
_invented = sys.modules.setdefault("invented", importlib.util.module_from_spec(_spec))
_spec.loader.exec_module(_invented)
VARIANTS: dict[str, Callable[[], dict[str, Any]]] = _invented.VARIANTS


@pytest.fixture()
def invented() -> dict[str, Callable[[], dict[str, Any]]]:
    """Makers of the invented days by name."""
    return VARIANTS


@pytest.fixture(params=list(VARIANTS))
def any_day(request: pytest.FixtureRequest) -> dict[str, Any]:
    """Each of the invented days in turn."""
    return VARIANTS[request.param]()
