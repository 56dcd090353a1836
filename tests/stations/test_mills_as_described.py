"""Two invented mills solved from their hand-made starts, and other shapes of works."""

from pathlib import Path

import pytest

import ratoon.demo
from ratoon.account.mill import Mill, read_mill
from ratoon.base.errors import BadInput, RatoonError, UnknownName
from ratoon.base.units import from_inside
from ratoon.settings.read import parse_settings

KESTREL = Path(ratoon.demo.__file__).parent / "data" / "mill.toml"
SECOND = Path(__file__).parents[1] / "mills" / "second.toml"

# Own second solution of the same invented mill: address, value in trade units, tolerance.
BASE = [
    ("mixed_juice.flow", 487.7, 0.02), ("mixed_juice.brix", 16.37, 0.02),
    ("limed_juice.flow", 579.4, 0.02), ("mud.flow", 74.3, 0.02), ("filtrate.flow", 89.0, 0.02),
    ("clear_juice.flow", 501.8, 0.02), ("clear_juice.brix", 15.67, 0.02),
    ("liquor.flow", 115.6, 0.02), ("remelt.flow", 10.1, 0.03),
    ("pan.A.massecuite.flow", 92.2, 0.02), ("pan.B.massecuite.flow", 39.4, 0.02),
    ("pan.C.massecuite.flow", 36.3, 0.02), ("molasses.A.flow", 51.8, 0.02),
    ("sugar.flow", 62.9, 0.02), ("final_molasses.flow", 20.5, 0.02),
    ("evaporator.steam.flow", 163.1, 0.02), ("process_steam.flow", 188.1, 0.02),
    ("boiler.steam.flow", 244.6, 0.02), ("boiler.fuel.flow", 107.4, 0.02),
    ("account.extraction", 96.27, 0.002), ("account.overall_recovery", 86.56, 0.003),
    ("account.loss.molasses_share", 9.18, 0.02), ("account.ccs", 14.12, 0.002),
]  # fmt: skip


@pytest.fixture(scope="module")
def kestrel() -> Mill:
    return read_mill(KESTREL)


@pytest.mark.parametrize(("address", "expected", "tolerance"), BASE)
def test_kestrel_point_matches_its_second_solution(
    kestrel: Mill, address: str, expected: float, tolerance: float
) -> None:
    found = from_inside(kestrel.plant.solve()[address], kestrel.addresses[address].unit)
    assert found == pytest.approx(expected, rel=tolerance)


def test_kestrel_point_names_each_source(kestrel: Mill) -> None:
    equations = kestrel.plant.equations.equations
    assert len(equations) >= 190
    assert all(e.source for e in equations)
    assert all(v.text for v in kestrel.plant.equations.variables.values())


def test_a_second_different_mill_solves_from_its_hand_start() -> None:
    plant = read_mill(SECOND).plant
    assert len(plant.settings.mills) == 4
    assert len(plant.settings.effects) == 4
    assert tuple(plant.settings.pans) == ("A", "C")
    answer = plant.solve()
    assert answer.method == "newton"
    assert answer.residual < 1e-9
    assert answer["pan.A.massecuite.purity"] == pytest.approx(0.81)
    assert 0.61 < answer["molasses.A.purity"] < 0.67
    assert 0.62 < answer["pan.C.massecuite.purity"] < 0.67
    lost = sum(answer[f"account.loss.{k}"] for k in ("bagasse", "mud", "molasses", "known"))
    assert answer["account.pol.cane"] == pytest.approx(answer["account.pol.sugar"] + lost, rel=1e-9)


@pytest.mark.parametrize("path", [KESTREL, SECOND])
def test_juice_is_heated_past_boiling_before_the_flash(path: Path) -> None:
    """Effects too large for the rate leave vapour 1 too cold, and the juice would not flash."""
    answer = read_mill(path).plant.solve()
    assert answer["heater.secondary.temperature"] > 100.0
    assert answer["flash.vapour.flow"] > 0.0


def test_three_and_six_mills_solve() -> None:
    text = KESTREL.read_text(encoding="utf-8").split("[readings]")[0]
    mill = "[[mills]]\nfibre_content = 46.0\nfines = 0.9\ninsolubles_to_juice = 11.0\n\n"
    six = text.replace("[tandem]", mill + "[tandem]", 1)
    assert Mill(parse_settings(six)).plant.solve()["account.extraction"] > 0.963


BAD = [
    ("[cane]\nrate", "[cane]\nraet", "rate"),
    ("vapour = 2\n", "", "vapour"),
    ("vapour = 2\n", "vapour = 9\n", "bleed"),
    ("screen_returns_to = 2", "screen_returns_to = 9", "cannot close"),
    ('feeds = ["liquor", "A_molasses", "B_molasses"]', 'feeds = ["liquor", "A_molasses"]',
     "B molasses"),
    ("fibre = 15.05", 'fibre = "15.05"', "number"),
    ('"cane.weight" =', '"cane.wieght" =', "cane.weight"),
    ('"account.extraction" =', '"account.extrction" =', "account.extraction"),
    ("season_start = 2031-06-10", 'season_start = "10/06/2031"', "date"),
]  # fmt: skip


@pytest.mark.parametrize(("right", "wrong", "told"), BAD)
def test_a_bad_mill_file_is_refused_in_one_line(right: str, wrong: str, told: str) -> None:
    text = KESTREL.read_text(encoding="utf-8")
    assert right in text
    with pytest.raises(RatoonError) as refused:
        _ = Mill(parse_settings(text.replace(right, wrong, 1))).plant
    assert isinstance(refused.value, BadInput)
    assert told in str(refused.value)
    assert "\n" not in str(refused.value)


def _solved(text: str, given: dict[str, float]) -> dict[str, float]:
    return dict(Mill(parse_settings(text)).plant.solve(given).values)


def test_the_density_of_a_massecuite_reaches_its_stock() -> None:
    """A tenth more density: as many cubic metres hold, and grow by, a tenth more."""
    text = KESTREL.read_text(encoding="utf-8").split("[readings]")[0]
    dense = text.replace("density = 1489.0", f"density = {1.1 * 1489.0}", 1)
    assert dense != text
    grown = {"stock.C_massecuite.closing": 570.0}  # ten more than at the opening
    plain, denser = _solved(text, grown), _solved(dense, grown)
    held = "stock.C_massecuite.opening"
    usual = plain[f"{held}_dry"] / 560.0 / plain["pan.C.massecuite.dry_substance"]
    assert usual == pytest.approx(1489.0, rel=1e-9)
    ratio = denser[f"{held}_dry"] / plain[f"{held}_dry"]
    assert ratio == pytest.approx(1.1, rel=1e-3)
    # what the stock takes is missing behind it: 10 m3 in the period's crushing hours
    for found, density in ((plain, 1489.0), (denser, 1.1 * 1489.0)):
        made = found["pan.C.massecuite.flow"] - 10.0 * density / found["hours.crushing"]
        cooled = sum(found[f"crystalliser.massecuite.flow.{c}"]
                     for c in ("water", "sucrose", "nonsucrose", "crystal"))  # fmt: skip
        assert cooled == pytest.approx(made, rel=1e-9)


def test_the_brix_of_magma_is_read_by_the_mill_files_factor() -> None:
    text = KESTREL.read_text(encoding="utf-8").split("[readings]")[0]
    own = text.replace("[sugar]\n", "[sugar]\nmagma_dry_on_brix = 0.97\n", 1)
    assert own != text
    plain, found = _solved(text, {}), _solved(own, {})
    assert plain["magma.dry_substance"] / plain["magma.brix"] == pytest.approx(0.9888, rel=1e-9)
    assert found["magma.dry_substance"] / found["magma.brix"] == pytest.approx(0.97, rel=1e-9)


def test_by_what_juices_are_read_and_magma_is_mingled() -> None:
    """Brix read high lowers the purity read and no sucrose; liquor brings solids, water none."""
    text = KESTREL.read_text(encoding="utf-8").split("[readings]")[0]
    own = text.replace("[sugar]\n", '[sugar]\nmagma_with = "liquor"\n', 1)
    own = own.replace("[cane]\n", '[laboratory]\njuice_brix = "refractometer"\n\n[cane]\n', 1)
    plain, found = _solved(text, {}), _solved(own, {})
    ratio = found["juice.dry_on_brix"]
    assert 0.97 < ratio < 1.0 and "juice.dry_on_brix" not in plain
    for juice in ("mixed_juice", "clear_juice", "liquor"):
        water, sugar, other = (found[f"{juice}.flow.{c}"]
                               for c in ("water", "sucrose", "nonsucrose"))  # fmt: skip
        dry = (sugar + other) / (water + sugar + other)
        assert found[f"{juice}.brix"] == pytest.approx(dry / ratio, rel=1e-9)
        assert found[f"{juice}.purity"] * found[f"{juice}.brix"] == pytest.approx(
            sugar / (water + sugar + other), rel=1e-9
        )
    assert found["liquor.brix"] == pytest.approx(plain["liquor.brix"], rel=1e-6)
    assert abs(found["magma.water"]) < 1e-9 < plain["magma.water"]
    assert found["magma.purity"] > plain["magma.purity"]
    assert found["account.overall_recovery"] == pytest.approx(
        plain["account.overall_recovery"], abs=1e-4
    )
    for wrong in (own.replace('"liquor"\n', '"syrop"\n'), own.replace("refractometer", "eye")):
        with pytest.raises(UnknownName):
            _ = Mill(parse_settings(wrong)).plant


def test_exhaust_condensed_in_a_heater_is_condensate_of_exhaust() -> None:
    text = KESTREL.read_text(encoding="utf-8").split("[readings]")[0]
    mill = Mill(parse_settings(text.replace("vapour = 1\n", "vapour = 0\n", 1)))
    found = mill.plant.solve().values
    flows = ("evaporator.steam.flow", "pan.exhaust.steam.flow", "heater.secondary.vapour.flow")
    whole = sum(found[a] for a in flows) * found["hours.crushing"]
    assert found["heater.secondary.vapour.flow"] > 1.0
    assert found["account.condensate_of_exhaust"] == pytest.approx(whole, rel=1e-9)
    told = mill.figures["account.condensate_of_exhaust"]
    assert set(told.inputs) == set(flows) and "heaters on exhaust" in told.formula
