"""Mill files made strange at random: each must be refused in one line, or solved, or said unsolved.

Run it by hand for many: ``python tests/mills/strange.py 5000 [FIRST]``; the test takes a few.
"""

from __future__ import annotations

import random
import re
import sys
import traceback
from collections import Counter
from importlib.resources import files
from pathlib import Path

from ratoon.account.mill import Mill
from ratoon.base.errors import NotSolved, RatoonError
from ratoon.settings.read import parse_settings

_NUMBER = re.compile(r"(?<![\w\"-])-?\d+(?:\.\d+)?(?![\w\"-])")
_ODD = ("0", "0.0", "-0.0", "-1", "1", "2", "7", "1e-9", "1e-300", "1e5", "1e9", "1e12", "1e308",
        "nan", "inf", "-inf", "99999999999999999999", '"12"', "true", "[]", "{}", "2031-06-10",
        '""')  # fmt: skip


def plain_texts() -> list[str]:
    """The mill files that the strange ones are made from."""
    demo = files("ratoon.demo") / "data" / "mill.toml"
    second = Path(__file__).with_name("second.toml")
    return [demo.read_text(encoding="utf-8"), second.read_text(encoding="utf-8")]


def strange(texts: list[str], number: int) -> str:
    """The strange file of a number: always the same one."""
    chance = random.Random(number)
    lines = chance.choice(texts).splitlines()
    with_number = [i for i, line in enumerate(lines) if "=" in line and _NUMBER.search(line)]
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        at = chance.choice(with_number)
        if chance.random() < 0.06:
            lines[at] = ""
        elif chance.random() < 0.04:
            other = chance.randrange(len(lines))
            lines[at], lines[other] = lines[other], lines[at]
        else:
            lines[at] = _changed(lines[at], chance)
    return "\n".join(lines)


def _changed(line: str, chance: random.Random) -> str:
    key, _, value = line.partition("=")
    found = list(_NUMBER.finditer(value))
    if not found:
        return line
    one = chance.choice(found)
    old = float(one[0])
    scaled = [f"{old * factor!r}" for factor in (0.001, 0.1, 0.5, 0.9, 1.1, 2.0, 10.0, 1000.0)]
    new = chance.choice((chance.choice(_ODD), chance.choice(scaled)))
    return f"{key}={value[: one.start()]}{new}{value[one.end() :]}"


def outcome(text: str) -> str:
    """What the program makes of a mill file: solved, refused, not solved; "fault" is its own.

    Whatever no part of the program raises on purpose is its fault, with the place.
    """
    try:
        mill = Mill(parse_settings(text))
        mill.addresses  # noqa: B018 - made on first use
        mill.plant.solve()
    except NotSolved:
        return "not solved"
    except RatoonError as error:
        return "refused" if "\n" not in error.line() else f"fault: {error.line()!r}"
    except Exception as error:
        place = traceback.extract_tb(error.__traceback__)[-1]
        return f"fault: {type(error).__name__} {error} at {place.name}:{place.lineno}"
    return "solved"


def main(count: int, first: int = 0) -> int:
    """Try `count` files and say what became of them; 1 where the program was at fault."""
    texts, found = plain_texts(), Counter[str]()
    for number in range(first, first + count):
        got = outcome(strange(texts, number))
        found[got.partition(":")[0]] += 1
        if got.startswith("fault"):
            print(f"file {number}: {got}", flush=True)
    print(dict(found))
    return 1 if found["fault"] else 0


if __name__ == "__main__":
    sys.exit(main(*(int(word) for word in sys.argv[1:3])))
