"""No room but the plant, the invented mill and the checks names a station's quantity.

They ask for what they need by its role, so a mill of other stations is accounted, tried and shown
as it is. The account's own figures, ``account.*``, are what they may name.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import ratoon
import ratoon.demo
from ratoon.account.mill import read_mill

ROOT = Path(ratoon.__file__).parent
DEMO = Path(ratoon.demo.__file__).parent / "data" / "mill.toml"
OF_STATIONS = ("plant", "demo", "checks")
DATA = (
    "account/by_rate.py",
    "account/first_file.py",
    "settings/rounds.py",
    "settings/usual_readings.py",
)
"""What mills usually read, as data: a table of addresses is what they are."""
OURS = "account."
LEFT = {
    # what is kept beside the plant's quantities has addresses of its own
    "account/readings/own.py": {"lost_time."},
    "importers/mill_rows.py": {"lost_time."},
    # what an older mill file assumed, under the names that stand for it now
    "settings/form.py": {"first_juice.brix_free", "first_juice.purity_ratio"},
}
"""What is left, by file, each with its reason."""


@pytest.fixture(scope="module")
def addresses() -> list[str]:
    # a reading kept beside the plant may be called by a word of the language, as rain is
    return [a for a in read_mill(DEMO).addresses if not a.startswith(OURS) and "." in a]


def rooms() -> list[Path]:
    return [
        path
        for path in sorted(ROOT.rglob("*.py"))
        if not path.relative_to(ROOT).as_posix().startswith((*OF_STATIONS, *DATA))
    ]


def texts(path: Path) -> Iterator[tuple[int, str]]:
    """The texts of a file but its docstrings; what an f-string fills in is a star."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    told = {id(n.value) for n in ast.walk(tree) if isinstance(n, ast.Expr)}
    parts = {id(v) for n in ast.walk(tree) if isinstance(n, ast.JoinedStr) for v in n.values}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield (
                node.lineno,
                "".join(str(v.value) if isinstance(v, ast.Constant) else "*" for v in node.values),
            )
        elif id(node) not in told | parts and isinstance(node, ast.Constant):
            yield node.lineno, str(node.value) if isinstance(node.value, str) else ""


def names(text: str, addresses: list[str]) -> bool:
    """Whether a text is an address, begins some, or ends some by more than one quality."""
    if text.startswith(OURS) or not re.fullmatch(r"[A-Za-z0-9_.*]*[A-Za-z_][A-Za-z0-9_.*]*", text):
        return False
    if "." not in text.strip(".*") and not text.endswith("."):
        return text in addresses
    if text[0] in ".*" and text.count(".") < 2:
        return False  # one quality, whatever has it
    pattern = re.escape(text).replace(r"\*", "[^.]+")
    begins = re.compile(pattern if text.endswith(".") else pattern + r"(\.|$)")
    ends = re.compile(r"(.*\.)?" + pattern.removeprefix(r"\.") + "$")
    return any(begins.match(a) or ends.match(a) for a in addresses)


def test_rooms_ask_by_role(addresses: list[str]) -> None:
    found = [
        f"{name}:{line}: {text}"
        for path in rooms()
        for name in [path.relative_to(ROOT).as_posix()]
        for line, text in texts(path)
        if names(text, addresses) and text not in LEFT.get(name, ())
    ]
    assert not found, "\n".join(found)


@pytest.mark.parametrize(
    "text",
    ["cane.rate", "pan.*.massecuite.purity", "stock.", "effect.*.htc", ".massecuite.purity",
     "mill.*.fibre_content", "imbibition.flow"],
)  # fmt: skip
def test_a_name_is_seen(text: str, addresses: list[str]) -> None:
    assert names(text, addresses)


@pytest.mark.parametrize("text", ["account.cane", "mill.toml", ".pol", "*.weight", "cane", "a.b"])
def test_other_texts_are_not_names(text: str, addresses: list[str]) -> None:
    assert not names(text, addresses)


def test_what_is_left_is_there() -> None:
    for name, kept in LEFT.items():
        assert kept <= {text for _, text in texts(ROOT / name)}
