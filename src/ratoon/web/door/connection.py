"""A connection ends that is silent, sends a head or body without end, or reads no answer.

Each costs little by itself; hundreds of them would take the places of people at work.
"""

from __future__ import annotations

import asyncio

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_SECONDS = 15.0
"""How long the first or a next request may take to be told whole [s], from its first byte on."""
SILENT_SECONDS = 30.0
"""How long a body, or who reads an answer, may stand still [s]."""
BODY_SECONDS = 600.0
"""How long a body may take in all [s]: 20 MB over a poor line."""
MOST_CONNECTIONS = 2000
"""Above it a new connection ends the oldest that has asked for nothing yet."""


class Connection(H11Protocol):
    """One connection, with an end to each of its waits."""

    _timer: asyncio.TimerHandle | None = None
    _begun = 0.0
    _for = ""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for a request."""
        super().connection_made(transport)
        self._wait("head", HEAD_SECONDS)
        if len(self.connections) > MOST_CONNECTIONS:
            waiting = [
                c for c in self.connections if isinstance(c, Connection) and c._for == "head"
            ]
            min(waiting, key=lambda one: one._begun).transport.abort()

    def data_received(self, data: bytes) -> None:
        """Take what came, then wait for what is still to come."""
        super().data_received(data)
        if self.conn.their_state is h11.IDLE:
            if self._for != "head":
                self._wait("head", HEAD_SECONDS)
        elif self.conn.their_state is h11.SEND_BODY:
            so_far = self.loop.time() - self._begun if self._for == "body" else 0.0
            self._wait("body", max(0.0, min(SILENT_SECONDS, BODY_SECONDS - so_far)))
        else:
            self._wait("", 0.0)

    def pause_writing(self) -> None:
        """Begin to wait for one who does not read."""
        super().pause_writing()
        self._wait("reader", SILENT_SECONDS)

    def resume_writing(self) -> None:
        """Somebody reads."""
        super().resume_writing()
        self._wait("", 0.0)

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no more."""
        super().connection_lost(exc)
        self._wait("", 0.0)

    def _wait(self, for_: str, seconds: float) -> None:
        if self._timer is not None:
            self._timer.cancel()
        if for_ != self._for:
            self._for, self._begun = for_, self.loop.time()
        self._timer = self.loop.call_later(seconds, self._late) if for_ else None

    def _late(self) -> None:
        standing = self.loop.time() - self._begun < BODY_SECONDS
        if self._for == "body" and self.flow.read_paused and standing:
            self._wait("body", SILENT_SECONDS)  # it is we who do not read
        else:
            self.transport.abort()
