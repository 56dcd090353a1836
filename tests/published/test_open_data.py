"""Open factory and crushing data: printed derived figures against the primary figures beside them.

Sources stand in the data files: trade press quoting chambers and ministries, [DavisAchary] table
5.1, [ThaiSheet], regional crushing reports, a trade review of 1913. Agreements and disagreements
are both asserted: a print that does not follow from its own inputs must be found out.
"""

from __future__ import annotations

import pytest

from ratoon.checks.open_data import DATA, Comparison, comparisons

ALL = comparisons()
DISAGREEMENTS = {
    # 5 822 633 t of cane and 493 937 t of sugar are 11.79, not 10.23
    ("KE-12", "t_cane_per_t_sugar"),
    # the text beside a table prints 385 757 t, its own four factories sum to 385 753
    ("MU16-T", "sugar as the text has it"),
}


@pytest.mark.parametrize("c", [pytest.param(c, id=f"{c.row}: {c.what}") for c in ALL])
def test_printed_figure_follows_from_its_inputs(c: Comparison) -> None:
    if (c.row, c.what) in DISAGREEMENTS:
        assert c.verdict == "disagrees"
    else:
        assert c.verdict in ("agrees", "agrees roughly"), f"printed {c.printed}, found {c.found}"


def test_how_many_ratios_of_cane_to_sugar_agree() -> None:
    ratios = [c for c in ALL if c.file == "factory_cane_sugar_totals" and c.formula != "sum"]
    verdicts = [c.verdict for c in ratios]
    assert len(ratios) == 24
    assert verdicts.count("agrees") == 18
    assert verdicts.count("agrees roughly") == 5
    assert verdicts.count("disagrees") == 1


def test_time_accounts_close_as_closely_as_their_digits_allow() -> None:
    """Four printed stops of two decimals each: 0.01 for efficiency, 0.025 for lost time."""
    near = {"overall_time_efficiency_pct": 0.0101, "lost_time_pct_available_crush": 0.025}
    told = [c for c in ALL if c.what in near]
    assert len(told) == 8
    assert [c for c in told if abs(c.found - float(c.printed)) > near[c.what]] == []


def test_every_file_is_read() -> None:
    files = {path.stem for path in DATA.glob("*.csv")} - {"loss_benchmarks"}
    assert {c.file for c in ALL} == files
