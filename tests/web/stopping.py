"""Serves a mill in a process that words on its input start, and stop by force."""

import os
import signal
import sys
from pathlib import Path

import uvicorn

from ratoon.web.app import create_app
from ratoon.web.serve import listening_socket


def serve(folder: Path, port: int) -> None:
    """Serve until somebody ends this process."""
    config = uvicorn.Config(create_app(folder), log_level="error", lifespan="off")
    uvicorn.Server(config).run(sockets=[listening_socket(port)])


if __name__ == "__main__":
    running = 0
    for word in sys.stdin:
        if word.strip() == "start":
            running = os.fork()
            if not running:
                serve(Path(sys.argv[1]), int(sys.argv[2]))
                sys.exit(0)
        else:
            os.kill(running, signal.SIGKILL)
            os.waitpid(running, 0)
        print(word.strip(), flush=True)
