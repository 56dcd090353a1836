"""A small mill's addresses and clock, and files written for a test."""

from collections.abc import Callable
from datetime import date, time
from pathlib import Path

import pytest

from ratoon.base.addresses import AddressInfo
from ratoon.base.clock import Calendar
from ratoon.importers.reader import read_file
from ratoon.importers.records import FileRows

HEADER = "address,start,end,value,unit,sigma,source,note"
KNOWN = {
    info.address: info
    for info in (
        AddressInfo("cane.weight", "cane crushed", "t/h", low=1.0, high=900.0),
        AddressInfo("mixed_juice.flow", "mixed juice", "t/h", low=1.0, high=1200.0),
        AddressInfo("bagasse.pol", "pol in bagasse", "%", low=0.0, high=10.0),
        AddressInfo("bagasse.moisture", "moisture in bagasse", "%", low=20.0, high=80.0),
        AddressInfo("imbibition.temperature", "imbibition", "degC", low=0.0, high=100.0),
        AddressInfo("effect.1.vapour.pressure", "vapour", "kPa a", low=5.0, high=400.0),
        AddressInfo("tank.liquor.stock", "liquor in tank", "m3", low=0.0, high=900.0, level=True),
        AddressInfo("power.export", "power sent out", "MW", low=-20.0, high=60.0),
        AddressInfo("limed_juice.ph", "pH of limed juice", "pH", low=2.0, high=13.0),
        AddressInfo("account.ccs", "CCS", "%", kind="report", readable=False),
    )
}
CALENDAR = Calendar("Australia/Brisbane", time(6), "Monday", date(2031, 6, 10))

Read = Callable[..., FileRows]


@pytest.fixture
def read(tmp_path: Path) -> Read:
    """Reads text or bytes as a file; a row without header gets the one of readings."""

    def reader(
        content: str | bytes,
        name: str = "day.csv",
        calendar: Calendar = CALENDAR,
    ) -> FileRows:
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_file(path, KNOWN, calendar, atmospheric=100_000.0)

    return reader


def refusal(read: Read, row: str, header: str = HEADER) -> tuple[str, str]:
    """Column and reason of the one refused row; a good row beside it must be accepted."""
    good = "bagasse.pol,2031-08-14,,1.91,%,,," if header == HEADER else ""
    found = read(f"{header}\n{good}\n{row}\n")
    assert len(found.rows) == (1 if good else 0)
    (refused,) = found.refused
    assert refused.row == 3
    return refused.column, refused.reason
