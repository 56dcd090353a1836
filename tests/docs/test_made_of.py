"""What the program is made of: pinned by version and digest, and told as a bill of materials."""

import json
import re
import subprocess
import tomllib
from pathlib import Path

import pytest

HOME = Path(__file__).parents[2]
LOCKED = {p["name"]: p for p in tomllib.loads((HOME / "uv.lock").read_text())["package"]}


def test_what_sets_up_is_pinned_by_version_and_digest() -> None:
    lines = (HOME / "setup.txt").read_text().split("\nuv==")[1].splitlines()
    assert re.fullmatch(r"\d+\.\d+\.\d+ \\", lines[0])
    assert len(lines) > 5
    assert all(re.fullmatch(r" +--hash=sha256:[0-9a-f]{64}( \\)?", line) for line in lines[1:])
    run = (HOME / "run").read_text()
    assert "--require-hashes" in run and "uv sync" not in run.replace('uv" sync --frozen', "")


def test_what_builds_the_wheel_is_of_the_locks_versions() -> None:
    project = tomllib.loads((HOME / "pyproject.toml").read_text())
    pinned = [
        *project["build-system"]["requires"],
        *project["tool"]["uv"]["build-constraint-dependencies"],
    ]
    assert {p.split("==")[0]: p.split("==")[1] for p in pinned} == {
        name: LOCKED[name]["version"]
        for name in ("hatchling", *(d["name"] for d in LOCKED["hatchling"]["dependencies"]))
    }


def test_every_locked_file_has_its_digest() -> None:
    for name, package in LOCKED.items():
        files = [*package.get("wheels", []), *filter(None, [package.get("sdist")])]
        assert name == "ratoon" or files, name
        assert all(file["hash"].startswith("sha256:") for file in files), name


@pytest.mark.skipif(not (HOME / ".venv/bin/uv").exists(), reason="not set up by ./run")
def test_the_bill_of_materials_names_every_package_that_runs_with_its_digests() -> None:
    done = subprocess.run([HOME / "run", "sbom"], capture_output=True, text=True, check=True)
    bill = json.loads(done.stdout)
    assert bill["bomFormat"] == "CycloneDX" and bill["metadata"]["component"]["name"] == "ratoon"
    named = {c["name"]: c for c in bill["components"]}
    wanted, left = set(), ["ratoon"]
    while left:
        for needed in LOCKED[left.pop()].get("dependencies", []):
            more = LOCKED[needed["name"]].get("optional-dependencies", {})
            extras = {d["name"] for e in needed.get("extra", []) for d in more[e]}
            left += ({needed["name"]} | extras) - wanted
            wanted |= {needed["name"]} | extras
    assert {"sqlalchemy", "starlette", "h11"} < wanted == named.keys()
    for name, one in named.items():
        assert one["version"] == LOCKED[name]["version"]
        assert all(r["hashes"][0]["alg"] == "SHA-256" for r in one["externalReferences"])
