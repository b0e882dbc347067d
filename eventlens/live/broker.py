"""A connection to a broker that is made again and again, in a thread of its own; what is done on it is its owner's.

User and password: EVENTLENS_MQTT_USER (or user@ in the address), EVENTLENS_MQTT_PASSWORD or
EVENTLENS_MQTT_PASSWORD_FILE. TLS (mqtts://): EVENTLENS_MQTT_CA names the certificates that are trusted, if not those of
the system; EVENTLENS_MQTT_CERT and EVENTLENS_MQTT_KEY the files of a client's own.
"""

from __future__ import annotations

import contextlib
import os
import ssl
import threading
import time
from collections.abc import Callable
from typing import Any, Final, Protocol

from eventlens.errors import EventlensError
from eventlens.live.access import EXTRA_REMEDY, Address, access

PREFIX: Final = "EVENTLENS_MQTT"
PORTS: Final = {"mqtt": 1883, "mqtts": 8883}
"""Usual ports (registered for MQTT and MQTT over TLS)."""
KEEPALIVE_S: Final = 20
"""A connection that is silent for so long, and half of it more, is lost (common practice, no source)."""
CONNECT_S: Final = 5.0
AGAIN_S: Final = (0.1, 5.0)
"""Before it is tried again: at first, and at most; doubled from one to the next (common practice, no source)."""
_ANSWER_S: Final = 10.0
"""So long a broker may take to answer to a connection that is made."""
_IN_FLIGHT: Final = 65_535
"""Messages that the broker may send before the first is acknowledged: the most that there can be."""
_REFUSED: Final = (
    *("Bad user name or password", "Not authorized", "Client identifier not valid", "Banned"),
    "Unsupported protocol version",
)
"""Answers that do not change by trying again."""


class Owner(Protocol):
    """Who uses a connection. All of these are called from its thread."""

    def on_up(self, *, same_session: bool) -> None:
        """It is made; same_session: the broker kept what was not fetched."""
        ...

    def on_down(self) -> None:
        """It is lost."""
        ...

    def on_note(self, sentence: str) -> None:
        """Something that people should know."""
        ...

    def on_fault(self, fault: EventlensError) -> None:
        """It makes no sense to go on."""
        ...


class Broker:
    """A broker at an address."""

    def __init__(self, address: Address, client: str, protocol: str, session_h: float, owner: Owner) -> None:
        """EventlensError where the extra is missing, or a file of the environment cannot be read."""
        self._mqtt = library()
        self.address, self._owner, self._session_s = address, owner, round(session_h * 3600)
        self._is_v5 = protocol == "5"
        self.client = self._client(client)
        self._stop, self._down = threading.Event(), threading.Event()
        self._refused, self._lost = "", ""
        self._fault: EventlensError | None = None
        self._answered = threading.Event()
        self._thread = threading.Thread(target=self._run, name="broker", daemon=True)

    def start(self) -> None:
        """Begins to connect."""
        self._thread.start()

    def close(self) -> None:
        """Leaves the broker, which keeps what was not acknowledged."""
        self._stop.set()
        self._down.set()
        self._answered.set()
        if self._thread.is_alive():
            self._thread.join(CONNECT_S + _ANSWER_S)

    def subscribe(self, topics: list[str]) -> None:
        """At QoS 1; what is retained there is given where the session did not have the topic yet."""
        if not self._is_v5:
            self.client.subscribe([(topic, 1) for topic in topics])
            return
        from paho.mqtt.subscribeoptions import SubscribeOptions

        new_only = SubscribeOptions(qos=1, retainHandling=SubscribeOptions.RETAIN_SEND_IF_NEW_SUB)
        self.client.subscribe([(topic, new_only) for topic in topics])

    def _client(self, name: str) -> Any:
        mqtt = self._mqtt
        version = mqtt.MQTTv5 if self._is_v5 else mqtt.MQTTv311
        clean = {} if self._is_v5 else {"clean_session": False}
        client = mqtt.Client(
            mqtt.CallbackAPIVersion.VERSION2,
            client_id=name,
            protocol=version,
            manual_ack=True,
            reconnect_on_failure=False,
            **clean,
        )
        client.connect_timeout = CONNECT_S
        opened = access(self.address, PREFIX)
        if opened.user is not None:
            client.username_pw_set(opened.user, opened.password)
        self._is_open_to_all = opened.password is not None and self.address.scheme == "mqtt"
        if self.address.scheme == "mqtts":
            client.tls_set_context(_tls())
        client.on_connect = self._on_connect
        client.on_disconnect = self._on_disconnect
        return client

    def _on_connect(self, client: Any, userdata: Any, flags: Any, reason: Any, properties: Any) -> None:
        if reason.is_failure:
            self._refused = str(reason)
        else:
            self._owner.on_up(same_session=bool(flags.session_present))
        self._answered.set()

    def _on_disconnect(self, client: Any, userdata: Any, flags: Any, reason: Any, properties: Any) -> None:
        self._lost = f" ({reason})" if flags.is_disconnect_packet_from_server else ""
        self._down.set()

    def _run(self) -> None:
        delay, told = AGAIN_S[0], False
        if self._is_open_to_all:
            self._owner.on_note(f"The password goes unencrypted to {self.address.name}: mqtts:// would encrypt it.")
        while not self._stop.is_set():
            why = self._connected()
            if self._fault is not None:
                self._owner.on_fault(self._fault)
                return
            if self._stop.is_set():
                return
            if why is None:  # it was up
                delay, told = AGAIN_S[0], False
                self._owner.on_note(f"The connection to {self.address.name} is lost{self._lost}; it is tried again.")
            elif not told:
                told = True
                self._owner.on_note(f"{self.address.name} cannot be reached ({why}); it is tried again.")
            self._stop.wait(delay)
            delay = min(delay * 2, AGAIN_S[1])

    def _connected(self) -> str | None:
        """Connects, and stays as long as the connection does. Why there was none; None: there was one."""
        self._down.clear()
        self._answered.clear()
        self._refused = self._lost = ""
        try:
            self.client.connect(self.address.host, self.address.port, KEEPALIVE_S, **self._terms())
        except ssl.SSLCertVerificationError as fault:
            self._fault = _untrusted(self.address, fault.verify_message)
            return "certificate"
        except (OSError, ValueError) as fault:
            return getattr(fault, "strerror", None) or type(fault).__name__
        self.client.loop_start()
        try:
            self._wait(lambda: self._answered.is_set() or self._down.is_set(), _ANSWER_S)
            if self._refused in _REFUSED:
                self._fault = _refusal(self.address, self._refused)
            if not self._answered.is_set() or self._refused:
                return self._refused or "no answer"
            self._down.wait()
            self._owner.on_down()
            return None
        finally:
            self.client.disconnect()
            self.client.loop_stop()
            # the pair of sockets by which the library wakes its loop is made anew for each; it forgets to close it
            with contextlib.suppress(AttributeError):
                self.client._reset_sockets(sockpair_only=True)

    def _wait(self, done: Callable[[], bool], most_s: float) -> None:
        until = time.monotonic() + most_s
        while not done() and time.monotonic() < until:
            self._answered.wait(0.05)

    def _terms(self) -> dict[str, Any]:
        """What is asked of the broker: to keep the session."""
        if not self._is_v5:
            return {}
        from paho.mqtt.packettypes import PacketTypes
        from paho.mqtt.properties import Properties

        properties: Any = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
        properties.SessionExpiryInterval = min(self._session_s, 0xFFFFFFFF)
        properties.ReceiveMaximum = _IN_FLIGHT
        return {"clean_start": False, "properties": properties}


def _tls() -> ssl.SSLContext:
    names = {key: os.environ.get(f"{PREFIX}_{key}") for key in ("CA", "CERT", "KEY")}
    try:
        context = ssl.create_default_context(cafile=names["CA"])
        if names["CERT"]:
            context.load_cert_chain(names["CERT"], names["KEY"])
    except (OSError, ssl.SSLError) as fault:
        named = ", ".join(f"{PREFIX}_{key}" for key, value in names.items() if value)
        raise EventlensError("certificates for TLS", str(fault), f"check {named}") from None
    return context


def library() -> Any:
    """paho-mqtt, loaded when a broker is asked for; EventlensError where it is missing."""
    try:
        from paho.mqtt import client
    except ImportError:
        raise EventlensError("the package paho-mqtt for mqtt://", "none", EXTRA_REMEDY) from None
    return client


def _refusal(address: Address, why: str) -> EventlensError:
    remedy = "ask its owner"
    if why in _REFUSED[:2]:
        remedy = f"check {PREFIX}_USER and {PREFIX}_PASSWORD_FILE"
    elif why == _REFUSED[-1]:
        remedy = 'state protocol = "3.1.1" in [live] of the profile'
    return EventlensError(f"to be let in by {address.name}", f"'{why}'", remedy)


def _untrusted(address: Address, why: str) -> EventlensError:
    return EventlensError(
        f"a certificate of {address.name} that is trusted", f"'{why}'", f"name who signed it in {PREFIX}_CA"
    )
