"""A real OPC UA server for tests, in a thread of its own; stopped and started again at will."""

from __future__ import annotations

import asyncio
import logging
import threading
from collections.abc import Coroutine
from datetime import UTC, datetime
from typing import Any, TypeVar

from asyncua import Server, ua
from asyncua.crypto.permission_rules import User, UserRole

from tests.live.broker import free_port

T = TypeVar("T")
FIRST = {"K11": False, "S1": False, "LOAD": 0.0, "WORD": "half", "LIST": [0]}


class _Users:
    """Everybody without a name, and saw with three saws."""

    def get_user(
        self, iserver: object, username: str | None = None, password: str | None = None, certificate: object = None
    ) -> User | None:
        if username is None or (username, password) == ("saw", "three saws"):
            return User(role=UserRole.User)
        return None


class RealServer:
    """A server with a few variables and events."""

    def __init__(self) -> None:
        logging.getLogger("asyncua").setLevel(logging.CRITICAL)
        self.port = free_port()
        self.address = f"opc.tcp://127.0.0.1:{self.port}"
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._thread.start()
        self._server: Any = self._do(self._made())

    def start(self) -> None:
        self._server.iserver._time_task_stop = False  # else its clock stands still when it is started again
        self._do(self._server.start())

    def stop(self) -> None:
        self._do(self._server.stop())

    def close(self) -> None:
        self._do(self._settled())
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()

    def write(self, name: str, value: Any, second: float | None = None, status: int = 0) -> None:
        """A value, with the stamp of its source: so many seconds after six; None: now."""
        stamp = datetime.now(UTC)
        if second is not None:
            stamp = datetime.fromtimestamp(1_772_431_200 + second, UTC)
        told = ua.DataValue(ua.Variant(value), ua.StatusCode(status), SourceTimestamp=stamp)
        self._do(self._variables[name].write_value(told))

    def event(self, source: str, severity: int) -> None:
        self._do(self._event(source, severity))

    def _do(self, what: Coroutine[Any, Any, T]) -> T:
        return asyncio.run_coroutine_threadsafe(what, self._loop).result(60.0)

    async def _made(self) -> Any:
        server = Server(user_manager=_Users())
        await server.init()
        server.set_endpoint(self.address)
        space = await server.register_namespace("urn:quay")
        folder = server.nodes.objects
        self._variables = {
            name: await folder.add_variable(ua.NodeId(name, space), name, value) for name, value in FIRST.items()
        }
        self._events = await server.get_event_generator()
        return server

    async def _settled(self) -> None:
        """Ends what the server left behind."""
        left = asyncio.all_tasks() - {asyncio.current_task()}
        for task in left:
            task.cancel()
        await asyncio.gather(*left, return_exceptions=True)

    async def _event(self, source: str, severity: int) -> None:
        self._events.event.SourceName, self._events.event.Severity = source, severity
        await self._events.trigger(message="told")
