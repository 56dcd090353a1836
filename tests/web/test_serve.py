"""`serve` as a whole process: answers on loopback, ends within seconds of being told to."""

import asyncio
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from ratoon.web import serve as serving
from ratoon.web.serve import listening_socket

TCP = socket.IPPROTO_TCP
PROGRAM = """
import pathlib, sys
from ratoon.web.serve import serve
if __name__ == "__main__":
    serve(pathlib.Path(sys.argv[1]), 0, open_browser=False, processes=int(sys.argv[2]))
"""


@pytest.mark.parametrize(("ending", "processes"), [(signal.SIGINT, 1), (signal.SIGTERM, 2)])
def test_it_serves_and_ends_when_told(works_mill: Path, ending, processes):
    """One process or two at one address; told by Ctrl-C or by the machine."""
    command = [sys.executable, "-c", PROGRAM, str(works_mill), str(processes)]
    with subprocess.Popen(command, stderr=subprocess.PIPE, stdout=subprocess.PIPE) as running:
        try:
            assert running.stderr
            first = running.stderr.readline().decode()
            found = re.search(r"http://127\.0\.0\.1:\d+/", first)
            assert found, first
            with urllib.request.urlopen(found[0], timeout=60) as answer:
                assert b"Saturday 14 June 2031" in answer.read()
                assert "server" not in answer.headers
            start = time.monotonic()
            running.send_signal(ending)
            running.wait(30)
            assert time.monotonic() - start < 8
            assert running.stdout and running.stdout.read() == b""
            assert b"leaked" not in running.stderr.read()
        finally:
            running.kill()
    with pytest.raises(OSError):
        urllib.request.urlopen(found[0], timeout=5)


def test_the_solvers_are_ready_before_anybody_is_answered(works_mill, monkeypatch):
    """Else the first trials wait for them, and they hold up everybody's pages."""
    seen, starts = [], serving._started

    def started(*given):
        seen.extend(starts(*given))
        return seen

    ready = []
    monkeypatch.setattr(serving, "_started", started)
    monkeypatch.setattr("uvicorn.Server.run", lambda *_, **__: ready.extend(
        f.result(0)[1] == "" for f in seen))  # fmt: skip
    serving.serve(works_mill, 0, open_browser=False)
    assert ready == [True, True]


def test_without_a_mill_file_it_serves_all_the_same(tmp_path, monkeypatch):
    answered = []
    monkeypatch.setattr("uvicorn.Server.run", lambda *_, **__: answered.append(1))
    serving.serve(tmp_path, 0, open_browser=False)
    assert answered == [1]


def test_answers_are_sent_at_once():
    """Without TCP_NODELAY each page waits 40 ms for the browser to acknowledge its head."""
    listener = listening_socket(0)

    async def accepted():
        seen = asyncio.get_running_loop().create_future()

        async def told(_, writer):
            seen.set_result(writer.get_extra_info("socket").getsockopt(TCP, socket.TCP_NODELAY))
            writer.close()

        async with await asyncio.start_server(told, sock=listener):
            _, writer = await asyncio.open_connection(*listener.getsockname())
            told_so = await seen
            writer.close()
            await writer.wait_closed()
        return told_so

    with ThreadPoolExecutor(1) as other:  # a browser of another test may run a loop in this thread
        assert other.submit(asyncio.run, accepted()).result(10) != 0


def test_files_are_sent_again_only_when_they_changed(client):
    for address in ("/static/ratoon.css", "/static/open.js", "/static/icon.svg",
                    "/static/font/Regular.otf"):  # fmt: skip
        first = client.get(address, headers={"Accept-Encoding": "gzip"})
        assert first.status_code == 200 and first.content
        assert ("content-encoding" in first.headers) == (address.endswith((".css", ".js")))
        again = client.get(address, headers={"If-None-Match": first.headers["etag"]})
        assert again.status_code == 304 and again.content == b""
    assert client.get("/static/font/Black.otf").status_code == 404
    assert client.get("/static/nothing.js").status_code == 404
