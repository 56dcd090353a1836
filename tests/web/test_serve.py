"""`serve` as a whole process: answers on loopback, ends within seconds of being told to."""

import re
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

PROGRAM = """
import pathlib, sys
from ratoon.web.serve import serve
if __name__ == "__main__":
    serve(pathlib.Path(sys.argv[1]), 0, open_browser=False)
"""


@pytest.mark.parametrize("ending", [signal.SIGINT, signal.SIGTERM])
def test_it_serves_and_ends_when_told(works_mill: Path, ending):
    command = [sys.executable, "-c", PROGRAM, str(works_mill)]
    with subprocess.Popen(command, stderr=subprocess.PIPE, stdout=subprocess.PIPE) as running:
        try:
            assert running.stderr
            first = running.stderr.readline().decode()
            found = re.search(r"http://127\.0\.0\.1:\d+/", first)
            assert found, first
            with urllib.request.urlopen(found[0], timeout=10) as answer:
                assert b"Saturday 14 June 2031" in answer.read()
                assert "server" not in answer.headers
            start = time.monotonic()
            running.send_signal(ending)
            running.wait(10)
            assert time.monotonic() - start < 8
            assert running.stdout and running.stdout.read() == b""
        finally:
            running.kill()
