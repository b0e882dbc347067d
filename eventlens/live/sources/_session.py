"""A session with an OPC UA server that is made again and again, in a thread of its own."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import os
from datetime import datetime
from typing import Any, Final, Protocol

from eventlens.errors import EventlensError
from eventlens.live.access import EXTRA_REMEDY, Address, access
from eventlens.reading.live_keys import Events

PREFIX: Final = "EVENTLENS_OPCUA"
PUBLISHED_MS: Final = 100.0
"""So often the server sends what it has [ms] (common practice, no source)."""
QUEUE: Final = 1000
"""Values of one variable, and events, that the server keeps between two sendings (common practice, no source): 10 000
changes a second."""
ANSWER_S: Final = 4.0
ALIVE_S: Final = 5.0
"""So often it is asked whether it is alive, and so long it may take to say so [s]; that a connection is closed is seen
at once."""
LOOKS_S: Final = 0.2
LEAVES_S: Final = 2.0
KEEP_ALIVE: Final = 50
LIFETIME: Final = 600
"""Sendings without anything to send after which the server says that it is there, and without an answer after which it
gives the subscription up: 5 s and 60 s (common practice, no source)."""
SILENT: Final = 1.25
"""A subscription that is silent for so many times its longest interval is lost; the library would make it anew in
silence later, and a gap would not be seen."""
AGAIN_S: Final = (0.1, 5.0)
"""Before it is tried again: at first, and at most; doubled from one to the next (common practice, no source)."""
_REFUSED: Final = (
    *("BadUserAccessDenied", "BadIdentityTokenInvalid", "BadIdentityTokenRejected", "BadSecurityChecksFailed"),
    *("BadSecurityPolicyRejected", "BadCertificateInvalid", "BadCertificateUntrusted"),
)


class Owner(Protocol):
    """Who uses a session. All of these are called from its thread."""

    def on_up(self, clock: datetime | None) -> None:
        """It is made. clock: what the server says the time is."""
        ...

    def on_down(self, why: str) -> None:
        """It is lost."""
        ...

    def on_value(self, node: str, value: Any) -> None:
        """A DataValue of a variable."""
        ...

    def on_event(self, entry: Events, event: Any) -> None:
        """An event that an entry asked for."""
        ...

    def on_note(self, sentence: str) -> None:
        """Something that people should know."""
        ...

    def on_fault(self, fault: EventlensError) -> None:
        """It makes no sense to go on."""
        ...


class _LostError(Exception):
    """The session is lost."""


class Session:
    """A server at an address, and what is asked of it."""

    def __init__(self, address: Address, nodes: tuple[str, ...], events: tuple[Events, ...], owner: Owner) -> None:
        """nodes: variables by their ids; an id that is none is an EventlensError."""
        self._ua, self._client = library()
        self._address, self._owner, self._events = address, owner, events
        self._access = access(address, PREFIX)
        self._nodes = {node: self._node_id(node) for node in nodes}
        for entry in events:
            self._node_id(entry.node)
            self._node_id(entry.type)
        self._stopped = self._was_up = self._is_up = False

    def run(self) -> None:
        """Until it is stopped; for a thread."""
        # what it would tell a terminal is told as notes
        logging.getLogger("asyncua").setLevel(logging.CRITICAL)
        asyncio.run(self._again_and_again())

    def stop(self) -> None:
        """Ends `run`, from another thread, within a second or two."""
        self._stopped = True

    def _node_id(self, text: str) -> Any:
        try:
            return self._ua.NodeId.from_string(text)
        except Exception:
            raise EventlensError(
                "a node id like 'ns=2;s=K11' in [live]", f"'{text}'", "write it as the server shows it"
            ) from None

    async def _again_and_again(self) -> None:
        delay, told = AGAIN_S[0], False
        if self._access.password is not None and not os.environ.get(f"{PREFIX}_SECURITY"):
            self._owner.on_note(f"The password may go unencrypted to {self._address.name}: state {PREFIX}_SECURITY.")
        while not self._stopped:
            self._is_up, why = False, ""
            try:
                await self._once()
            except EventlensError as fault:
                self._owner.on_fault(fault)
                return
            except Exception as fault:  # whatever a server answers, it is tried again
                why = _said(fault)
            if self._stopped:
                return
            if self._is_up:
                delay, told = AGAIN_S[0], False
                self._owner.on_down(why)
            elif not told:
                told = True
                self._owner.on_note(f"{self._address.name} cannot be reached ({why}); it is tried again.")
            await self._pause(delay)
            delay = min(delay * 2, AGAIN_S[1])

    async def _pause(self, seconds: float) -> None:
        for _ in range(round(seconds / AGAIN_S[0])):
            if not self._stopped:
                await asyncio.sleep(AGAIN_S[0])

    async def _once(self) -> None:
        """One session, as long as it lasts."""
        host = f"[{self._address.host}]" if ":" in self._address.host else self._address.host
        url = f"{self._address.scheme}://{host}:{self._address.port}/{self._address.path}"
        client = self._client(url, timeout=ANSWER_S, watchdog_intervall=ALIVE_S)
        if self._access.user is not None:
            client.set_user(self._access.user)
            client.set_password(self._access.password or "")
        try:
            await self._open(client)
            subscription, entries = await self._subscribed(client)
            self._is_up = self._was_up = True
            await self._listen(client, subscription, entries)
        finally:
            # a server that is gone is not waited for
            with contextlib.suppress(Exception):
                await asyncio.wait_for(client.disconnect(), LEAVES_S)

    async def _open(self, client: Any) -> None:
        try:
            if security := os.environ.get(f"{PREFIX}_SECURITY"):
                await client.set_security_string(security)
            await client.connect()
        except self._ua.UaStatusCodeError as fault:
            name = type(fault).__name__
            if name in _REFUSED:
                raise EventlensError(
                    f"to be let in by {self._address.name}",
                    f"'{name}'",
                    f"check {PREFIX}_USER, {PREFIX}_PASSWORD_FILE and {PREFIX}_SECURITY",
                ) from None
            raise
        except (ValueError, FileNotFoundError, AttributeError) as fault:
            raise EventlensError("keys and certificates that fit", str(fault), f"check {PREFIX}_SECURITY") from None

    async def _subscribed(self, client: Any) -> tuple[Any, dict[int, Events]]:
        """A subscription to everything, and the entries of its events by their handles."""
        terms = self._ua.CreateSubscriptionParameters()
        terms.RequestedPublishingInterval = PUBLISHED_MS
        terms.RequestedMaxKeepAliveCount, terms.RequestedLifetimeCount = KEEP_ALIVE, LIFETIME
        terms.MaxNotificationsPerPublish, terms.PublishingEnabled = 0, True
        subscription = await client.create_subscription(terms, queue_maxsize=0)
        entries = {}
        for entry in self._events:
            try:
                handle = await subscription.subscribe_events(
                    client.get_node(entry.node), client.get_node(entry.type), queuesize=QUEUE
                )
            except self._ua.UaStatusCodeError as fault:
                raise self._refused(f"the events of '{entry.node}'", type(fault).__name__) from None
            entries[handle] = entry
        self._owner.on_up(await self._clock(client))
        results = []
        if self._nodes:
            ids = [client.get_node(node) for node in self._nodes.values()]
            results = await subscription.subscribe_data_change(ids, queuesize=QUEUE, sampling_interval=0.0)
        for node, result in zip(self._nodes, results, strict=False):
            if isinstance(result, self._ua.StatusCode):
                raise self._refused(f"the variable '{node}'", result.name)
        return subscription, entries

    async def _clock(self, client: Any) -> datetime | None:
        """The server's own clock; None where it does not tell."""
        try:
            now = await client.get_node(
                self._ua.NodeId(self._ua.ObjectIds.Server_ServerStatus_CurrentTime)
            ).read_value()
        except self._ua.UaError:
            return None
        return now if isinstance(now, datetime) else None

    def _refused(self, what: str, why: str) -> Exception:
        """Something that the server does not give: a mistake, or a server that is not ready again yet."""
        if self._was_up:
            return _LostError(f"{what}: {why}")
        return EventlensError(f"{what} of {self._address.name}", f"'{why}'", "correct [live] of the profile")

    async def _listen(self, client: Any, subscription: Any, entries: dict[int, Events]) -> None:
        """Hands on what comes."""
        lost = asyncio.Event()

        async def on_lost(fault: Exception) -> None:
            lost.set()

        client.connection_lost_callback = on_lost
        names = {str(known): node for node, known in self._nodes.items()}
        while not self._stopped:
            found = await subscription.next_event(LOOKS_S)
            if found is None:
                if lost.is_set() or subscription.is_stale(SILENT) or subscription.is_deleted:
                    raise _LostError("no answer")
            elif hasattr(found, "data"):
                value = found.data.monitored_item.Value
                self._owner.on_value(names[str(found.node.nodeid)], value)
            elif hasattr(found, "event"):
                entry = entries.get(found.event.server_handle)
                if entry is not None:
                    self._owner.on_event(entry, found.event)
            else:
                raise _LostError(found.notification.Status.name)


def library() -> tuple[Any, Any]:
    """asyncua's types and its client, loaded when a server is asked for; EventlensError where it is missing."""
    try:
        from asyncua import ua
        from asyncua.client.client import Client
    except ImportError:
        raise EventlensError("the package asyncua for opc.tcp://", "none", EXTRA_REMEDY) from None
    return ua, Client


def _said(fault: BaseException) -> str:
    name = type(fault).__name__
    if isinstance(fault, TimeoutError):
        return "no answer"
    return getattr(fault, "strerror", None) or (str(fault) if isinstance(fault, _LostError) else name)
