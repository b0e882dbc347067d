"""A real broker for tests: its own port, its own folder, restarted and killed at will; and somebody who publishes."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from paho.mqtt import client as mqtt
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

STARTS_S = 30.0


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def program() -> str:
    """The broker that Debian's package has."""
    found = shutil.which("mosquitto", path=os.environ.get("PATH", "") + ":/usr/sbin")
    assert found, "install Debian's package mosquitto, as .ci/setup does"
    return found


class RealBroker:
    """One broker. Settings are lines of its configuration."""

    def __init__(self, folder: Path, *settings: str, port: int | None = None, keeps: bool = True) -> None:
        """keeps: sessions survive a restart."""
        self.folder, self.port = folder, port or free_port()
        folder.mkdir(parents=True, exist_ok=True)
        lines = [f"listener {self.port} 127.0.0.1", "user root", "log_dest none", *settings]
        if not any(line.startswith("password_file") for line in settings):
            lines.append("allow_anonymous true")
        if keeps:
            lines += ["persistence true", f"persistence_location {folder}/", "autosave_interval 1"]
        (folder / "broker.conf").write_text("\n".join(lines) + "\n")
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> str:
        return f"mqtt://127.0.0.1:{self.port}"

    def start(self) -> RealBroker:
        command = [program(), "-c", str(self.folder / "broker.conf")]
        self._process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        until = time.monotonic() + STARTS_S
        while time.monotonic() < until:
            try:
                socket.create_connection(("127.0.0.1", self.port), 0.2).close()
            except OSError:
                time.sleep(0.02)
                if self._process.poll() is not None:  # somebody had the port for a moment
                    self._process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            else:
                return self
        raise AssertionError("the broker did not start")

    def stop(self, how: int = signal.SIGTERM) -> None:
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait(STARTS_S)
            self._process = None

    def restart(self) -> None:
        self.stop()
        self.start()

    def publish(self, messages: Iterable[tuple[str, str | bytes]], *, retain: bool = False, qos: int = 1) -> None:
        """Publishes in order; returns when the broker has all of them."""
        client = self.client("")
        sent = [client.publish(topic, payload, qos, retain) for topic, payload in messages]
        for one in sent:
            one.wait_for_publish(STARTS_S)
            assert one.is_published()
        client.disconnect()
        client.loop_stop()

    def listen(self, client: Any, topic: str) -> None:
        """Subscribes; returns when the broker has said so: what is published from then on comes."""
        agreed = threading.Event()
        client.on_subscribe = lambda *_: agreed.set()
        client.subscribe(topic, qos=1)
        assert agreed.wait(STARTS_S)

    def client(self, name: str, *, keep_s: int = 0, **access: str) -> Any:
        """Somebody else at the broker, connected."""
        client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, client_id=name, protocol=mqtt.MQTTv5)
        if access:
            client.username_pw_set(access["user"], access["password"])
        properties = Properties(PacketTypes.CONNECT)
        properties.SessionExpiryInterval = keep_s
        client.max_inflight_messages_set(1000)
        client.connect("127.0.0.1", self.port, clean_start=not keep_s, properties=properties)
        client.loop_start()
        until = time.monotonic() + STARTS_S
        while not client.is_connected() and time.monotonic() < until:
            time.sleep(0.005)
        assert client.is_connected()
        return client
