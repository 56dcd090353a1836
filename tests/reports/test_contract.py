"""The invented days hold to the contract of the account's result, key by key and type by type."""

import types
import typing
from typing import Any, get_args, get_origin, get_type_hints

from ratoon.reports.contract import DayResult


def faults(value: Any, kind: Any, where: str = "result") -> list[str]:
    """What in `value` is not as the TypedDict `kind` says; one line each."""
    origin = get_origin(kind)
    if origin is typing.NotRequired:
        return faults(value, get_args(kind)[0], where)
    if origin is typing.Literal:
        return [] if value in get_args(kind) else [f"{where}: {value!r} not in {get_args(kind)}"]
    if origin in (types.UnionType, typing.Union):
        tries = [faults(value, k, where) for k in get_args(kind)]
        return [] if [] in tries else tries[0]
    if origin is list:
        if not isinstance(value, list):
            return [f"{where}: not a list"]
        inner = get_args(kind)[0]
        return [f for i, v in enumerate(value) for f in faults(v, inner, f"{where}[{i}]")]
    if origin is dict:
        if not isinstance(value, dict):
            return [f"{where}: {value!r} is no record"]
        inner = get_args(kind)[1]
        return [f for k, v in value.items() for f in faults(v, inner, f"{where}.{k}")]
    if typing.is_typeddict(kind):
        return _keys(value, kind, where)
    if kind is float and isinstance(value, int) and not isinstance(value, bool):
        return []
    if kind is Any:
        return []
    kind = type(None) if kind is None else kind
    return [] if isinstance(value, kind) else [f"{where}: {value!r} is not {kind.__name__}"]


def _keys(value: Any, kind: Any, where: str) -> list[str]:
    if not isinstance(value, dict):
        return [f"{where}: {value!r} is no record"]
    hints = get_type_hints(kind, include_extras=True)
    wrong = [f"{where}: unknown key {k}" for k in value if k not in hints]
    for name, inner in hints.items():
        if name in value:
            wrong += faults(value[name], inner, f"{where}.{name}")
        elif get_origin(inner) is not typing.NotRequired:
            wrong.append(f"{where}: missing key {name}")
    return wrong


def test_invented_days_hold_to_the_contract(any_day):
    assert faults(any_day, DayResult) == []


def test_a_fault_is_found(invented):
    day = invented["ordinary"]()
    del day["words"]["coverage"]
    day["figures"]["account.ccs"]["value"] = "14.12"
    day["status"] = "fine"
    found = faults(day, DayResult)
    assert len(found) == 3
    assert "result.words: missing key coverage" in found


def test_pol_in_cane_is_the_sum_of_its_parts(invented):
    for name in ("ordinary", "many_suspects", "apparent_gain"):
        day = invented[name]()
        parts = [p["pct"] for p in day["losses"].values()]
        parts += [day["pol"][k]["pct"] for k in ("sugar", "stock_change")]
        assert abs(sum(parts) - day["pol"]["cane"]["pct"]) < 1e-6
