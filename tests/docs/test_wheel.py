"""The wheel carries its tables, templates and fonts: it runs outside the checkout."""

import json
import os
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_the_wheel_works_on_its_own(tmp_path: Path) -> None:
    subprocess.run([sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)],
                   cwd=ROOT, check=True, capture_output=True)  # fmt: skip
    (wheel,) = tmp_path.glob("*.whl")
    alone = tmp_path / "alone"
    zipfile.ZipFile(wheel).extractall(alone)
    # The dependencies of this environment, without the checkout that it has on its path.
    libraries = tmp_path / "libraries"
    libraries.mkdir()
    for entry in Path(sysconfig.get_paths()["purelib"]).iterdir():
        if not entry.name.startswith(("ratoon", "_ratoon", "_editable_impl_ratoon")):
            (libraries / entry.name).symlink_to(entry)
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}
    environment["PYTHONPATH"] = f"{alone}{os.pathsep}{libraries}"

    def run(*arguments: str) -> str:
        code = "import sys, ratoon.cli; sys.exit(ratoon.cli.main())"
        done = subprocess.run([sys.executable, "-I", "-S", "-c", _path(environment) + code,
                               *arguments],
                              cwd=tmp_path, capture_output=True, text=True)  # fmt: skip
        assert done.returncode == 0, done.stderr
        return done.stdout

    rows = json.loads(run("check", "--json"))
    assert len(rows) > 1500
    assert all(row["pass"] for row in rows)
    mill = tmp_path / "mill"
    mill.mkdir()
    from_wheel = alone / "ratoon" / "demo" / "data" / "mill.toml"
    (mill / "mill.toml").write_bytes(from_wheel.read_bytes())
    (mill / "d.csv").write_text(
        "address,start,end,value,unit,sigma,source,note\ncane.weight,2031-06-12,,9000,t,,,\n"
    )
    run("import", "--mill", str(mill), str(mill / "d.csv"))
    run("day", "2031-06-12", "--mill", str(mill))
    sheets = mill / "sheets" / "2031-06-12"
    assert (sheets / "morning.pdf").read_bytes().startswith(b"%PDF")
    assert (sheets / "morning.html").is_file()


def _path(environment: dict[str, str]) -> str:
    places = environment["PYTHONPATH"].split(os.pathsep)
    return f"import sys; sys.path[:0] = {places!r}; "
