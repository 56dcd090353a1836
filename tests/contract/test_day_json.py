"""`ratoon day --json`: every key, its kind, its unit, and what must add up."""

from typing import Any

import pytest

from .conftest import DAY, NO_CRUSH, PARTIAL, WRONG, Typed
from .shapes import DAY as DAY_KEYS
from .shapes import KINDS, LOSSES, OPEN, READING, UNITS, amounts, has, is_a

DAYS = {DAY: "complete", NO_CRUSH: "no crush", PARTIAL: "partial", WRONG: "complete"}


@pytest.fixture(scope="module")
def printed(typed: Typed, at_shell: Typed) -> dict[str, dict[str, Any]]:
    """What is printed for an ordinary day, one without cane, one half read, one read wrong."""
    found = {}
    for day in DAYS:
        answer = (at_shell if day == DAY else typed)("day", day, "--json")
        assert answer.code == 0, answer.err
        found[day] = answer.json
    return found


@pytest.fixture(params=list(DAYS))
def day(request: pytest.FixtureRequest, printed: dict[str, dict[str, Any]]) -> dict[str, Any]:
    return printed[request.param]


def test_keys_and_kinds(day: dict[str, Any]) -> None:
    no_cane = day["status"] == "no crush"
    unknown = day["figures"]["account.undetermined"]["value"] is None
    null = {"with_all", "global_test"} if no_cane else {"with_all"}
    has(day, DAY_KEYS, null | ({"undetermined_is_real"} if unknown else set()))
    assert day["status"] == DAYS[day["date"]]
    assert day["mill"] == "Kestrel Point"
    has(day["period"], {"start": str, "end": str, "hours": float, "crushing_hours": float})
    has(day["versions"], {"program": str, "settings": str, "tables": str})
    has(day["seconds"], {"compile": float, "reconcile": float, "total": float})
    assert len(day["inputs_digest"]) == 64
    if not no_cane:
        amounts(day["global_test"], ("statistic", "p"))
        assert is_a(day["global_test"]["dof"], int)


def test_figures_are_always_there_in_their_units(day: dict[str, Any]) -> None:
    for name, unit in UNITS.items():
        figure = day["figures"][f"account.{name}"]
        assert figure["unit"] == unit, name
    for address, figure in day["figures"].items():
        has(figure, {"unit": str, "kind": str, "name": str})
        amounts(figure, ("value", "sigma"))
        assert figure["kind"] in KINDS, address
        assert (figure["value"] is None) == (figure["kind"] == "not determined"), address
        if figure["kind"] in ("measured", "found", "assumed"):
            assert figure["sigma"] is not None and figure["sigma"] > 0, address


def test_readings(day: dict[str, Any]) -> None:
    assert day["readings"]
    for reading in day["readings"]:
        has(reading, READING, OPEN)
        if reading["used"]:
            assert None not in (reading["adjusted"], reading["sigma_given"], reading["sigma"])
        else:
            assert reading["why_not"]


def test_suspects(day: dict[str, Any]) -> None:
    named = {r["address"] for r in day["readings"]}
    for suspect in day["suspects"]:
        has(suspect, {"reading": str, "standardised": float, "size": float, "equivalent": list,
                      "check": str})  # fmt: skip
        has(suspect, {"instrument_sigmas": float, "slip": str, "set_aside": bool},
            {"instrument_sigmas", "slip"})  # fmt: skip
        others = (*suspect["equivalent"], *suspect["losses"])
        assert suspect["check"] and all(is_a(other, str) for other in others)
        assert suspect["reading"] in named or "assumption" in suspect["check"]


def test_a_wrong_reading_is_named_with_what_looks_the_same(
    printed: dict[str, dict[str, Any]],
) -> None:
    first = printed[WRONG]["suspects"][0]
    alike = {first["reading"], *first["equivalent"]}
    assert "mixed_juice.flow" in alike
    assert {m["reading"] for m in first["members"]} == alike
    mine = next(m for m in first["members"] if m["reading"] == "mixed_juice.flow")
    assert mine["size"] > 0.0 and mine["standardised"] > 3.0
    assert not printed[WRONG]["undetermined_is_real"]
    assert [printed[DAY][k] for k in ("suspects", "set_aside", "with_all")] == [[], [], None]


def test_undetermined_alone_and_with_the_season(day: dict[str, Any]) -> None:
    judged, loss = day["undetermined"], day["losses"]["undetermined"]
    if loss["pct"] is None:
        return
    assert judged["headline"] in ("alone", "with_season")
    has(judged, {"alone": dict, "with_season": dict}, {"with_season"})
    for name in ("alone", "with_season"):
        if judged[name] is not None:
            assert set(judged[name]) == {"pct", "pct_sigma"}
    shown = judged[judged["headline"]]
    assert shown["pct"] == pytest.approx(loss["pct"])
    assert shown["pct_sigma"] == pytest.approx(loss["pct_sigma"])


def test_actions_are_jobs(day: dict[str, Any]) -> None:
    doubted = {a for s in day["suspects"] for a in (s["reading"], *s["equivalent"])}
    for job in day["actions"]:
        has(job, {"what": str, "where": str, "who": str, "gain_a_day": float, "sigma": float,
                  "limited_by": str, "caution": str, "kind": str},
            {"gain_a_day", "sigma", "where", "who", "limited_by", "caution"})  # fmt: skip
        assert job["kind"] in ("safety", "quality", "loss", "reading")
        assert job["gain_a_day"] is None or job["gain_a_day"] >= 0.0
        if job["kind"] == "loss":
            assert not doubted & set(job["about"])
    kinds = [job["kind"] for job in day["actions"]]
    assert kinds == sorted(kinds, key=["safety", "quality", "loss", "reading"].index)


def test_pol_and_losses_add_up(day: dict[str, Any]) -> None:
    for account in (day, *day["to_date"].values()):
        assert set(account["losses"]) == set(LOSSES)
        for part in account["losses"].values():
            amounts(part, ("t", "t_sigma", "pct", "pct_sigma", "money", "money_sigma"))
        assert set(account["pol"]) >= {"cane", "sugar", "stock_change"}
        for part in account["pol"].values():
            amounts(part, ("t", "t_sigma", "pct", "pct_sigma"))
        for unit in ("t", "pct"):
            cane = account["pol"]["cane"][unit]
            gone = [account["pol"][n][unit] for n in ("sugar", "stock_change")]
            gone += [part[unit] for part in account["losses"].values()]
            if cane is None or None in gone:
                assert day["status"] != "complete"
            else:
                assert abs(cane - sum(gone)) <= 1e-6


def test_an_ordinary_day_is_determined(printed: dict[str, dict[str, Any]]) -> None:
    day = printed[DAY]
    assert all(day["figures"][f"account.{n}"]["value"] is not None for n in UNITS)
    assert day["pol"]["cane"]["pct"] == pytest.approx(100.0)


def test_the_half_read_day_is_accounted_as_far_as_it_was_read(
    printed: dict[str, dict[str, Any]],
) -> None:
    day = printed[PARTIAL]
    assert day["figures"]["account.cane"]["value"] is not None
    wide, ordinary = day["figures"], printed[DAY]["figures"]
    both = [n for n in ordinary if wide[n]["value"] is not None and wide[n]["sigma"]]
    wider = [n for n in both if wide[n]["sigma"] > ordinary[n]["sigma"]]
    assert len(wider) > 0.8 * len(both)  # fewer readings, wider intervals


def test_the_day_without_cane_counts_to_date(printed: dict[str, dict[str, Any]]) -> None:
    day, after = printed[NO_CRUSH], printed[PARTIAL]
    assert day["period"]["crushing_hours"] == 0
    assert day["figures"]["account.hours"]["value"] == 0
    assert day["figures"]["account.lost_time"]["value"] == pytest.approx(24.0)
    assert (day["global_test"], day["undetermined_is_real"]) == (None, None)
    assert after["to_date"]["season"]["days"] == day["to_date"]["season"]["days"] + 1
    lost = after["to_date"]["season"]["figures"]["account.lost_time"]["value"]
    assert lost > 24.0


def test_shown_means_far_outside_the_interval_and_no_contradiction(day: dict[str, Any]) -> None:
    for account in (day, *day["to_date"].values()):
        figure, test = account["figures"]["account.undetermined"], account["global_test"]
        if figure["value"] is None or test is None:
            assert not account["undetermined_is_real"]
            continue
        judged = account["undetermined"]
        assert account["undetermined_is_real"] == (judged["grade"] == "shown")
        assert judged["score"] == pytest.approx(figure["value"] / figure["sigma"])
        assert (judged["grade"] == "within") == (abs(judged["score"]) <= 1.959964)
        clear = judged["score"] > 3.0 and test["p"] >= 0.01
        assert clear or not account["undetermined_is_real"]


def test_loss_in_per_cent_is_the_figure(day: dict[str, Any]) -> None:
    loss, figure = day["losses"]["undetermined"], day["figures"]["account.undetermined"]
    assert loss["pct"] == figure["value"] or loss["pct"] == pytest.approx(figure["value"])


def test_to_date(day: dict[str, Any]) -> None:
    assert set(day["to_date"]) == {"week", "season"}
    for part in day["to_date"].values():
        has(part, {"from": str, "days": int, "figures": dict, "losses": dict, "pol": dict})
        assert {f"account.{n}" for n in UNITS} <= set(part["figures"])


def test_every_quantity_of_the_plant_is_told_when_asked(
    typed: Typed, printed: dict[str, dict[str, Any]]
) -> None:
    day = printed[DAY]
    told = typed("day", DAY, "--all", "--json").json
    assert {k: v for k, v in told.items() if k in ("figures", "losses", "inputs_digest")} == {
        k: day[k] for k in ("figures", "losses", "inputs_digest")
    }
    every = told["quantities"]
    assert all(set(one) == {"value", "sigma", "unit", "kind"} for one in every.values())
    listed = {a["address"] for a in typed("addresses", "--json").json}
    assert {a for a in every if not a.startswith("account.")} <= listed
    assert every["mixed_juice.flow"]["kind"] == "measured"
    assert every["heater.primary.heat_loss"] == {
        "value": pytest.approx(2.0, abs=1.0), "sigma": pytest.approx(1.5, abs=0.2), "unit": "%",
        "kind": "assumed",
    }  # fmt: skip
    assert every["cane.fibre"]["kind"] == "found" and every["cane.fibre"]["sigma"] > 0.0
