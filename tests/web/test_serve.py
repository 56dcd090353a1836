"""`serve` as a whole process: answers on loopback, ends within seconds of being told to."""

import json
import re
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

PROGRAM = """
import json, pathlib, sys, types
day = types.ModuleType("ratoon.jobs.day")
result = json.loads(pathlib.Path(sys.argv[1]).read_text())
day.kept_day = lambda mill, date: result
day.accounted_days = lambda mill: [result["date"]]
import ratoon.jobs
sys.modules["ratoon.jobs.day"] = ratoon.jobs.day = day
from ratoon.web.serve import serve
serve(pathlib.Path(sys.argv[2]), 0, open_browser=False)
"""


@pytest.mark.parametrize("ending", [signal.SIGINT, signal.SIGTERM])
def test_it_serves_and_ends_when_told(results, tmp_path: Path, ending):
    given = tmp_path / "result.json"
    given.write_text(json.dumps(results["2031-08-14"]), encoding="utf-8")
    command = [sys.executable, "-c", PROGRAM, str(given), str(tmp_path)]
    with subprocess.Popen(command, stderr=subprocess.PIPE, stdout=subprocess.PIPE) as running:
        try:
            assert running.stderr
            first = running.stderr.readline().decode()
            found = re.search(r"http://127\.0\.0\.1:\d+/", first)
            assert found, first
            with urllib.request.urlopen(found[0], timeout=10) as answer:
                assert b"Thursday 14 August 2031" in answer.read()
                assert "server" not in answer.headers
            start = time.monotonic()
            running.send_signal(ending)
            running.wait(10)
            assert time.monotonic() - start < 8
            assert running.stdout and running.stdout.read() == b""
        finally:
            running.kill()
