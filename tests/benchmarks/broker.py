"""How many messages a second get from a local broker to the disk, sustained.

    python -m tests.benchmarks.broker --messages 50000

A process of its own publishes at QoS 1 as quickly as the broker takes; the follower's source puts everything into a
spool (each batch synced) and acknowledges. Counted is from the first row that is ready, less the wait, to the last one
on the disk; beside it what the follower's process itself needs, whatever else the computer does.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.live.broker import RealBroker
from tests.live.following import Followed

PROFILE = """
[live]
[[live.topics]]
topic = "quay/saw-3/json"
payload = "json"
name = "tag"
value = "state"
time = "at"
time_format = "epoch_us"
"""
PUBLISHES = """
import sys
from pathlib import Path
from tests.live.broker import RealBroker
broker = RealBroker(Path(sys.argv[1]), port=int(sys.argv[2]))
first = 1772431200000000
broker.publish(
    ("quay/saw-3/json", '{"tag": "K%d", "state": %d, "at": %d}' % (n % 20, n // 20 % 2, first + n * 1000))
    for n in range(int(sys.argv[3]))
)
"""


def measure(messages: int, wait_s: float) -> tuple[float, float, int]:
    """Messages a second, messages a second of processor time of the follower, and rows on the disk."""
    with tempfile.TemporaryDirectory() as folder:
        # a broker that drops nothing of what it has to keep for the follower
        broker = RealBroker(Path(folder) / "broker", "max_queued_messages 0", keeps=False).start()
        followed = Followed(broker.address, Path(folder) / "followed", PROFILE, wait_s).until_subscribed()
        command = [sys.executable, "-c", PUBLISHES, f"{folder}/publisher", str(broker.port), str(messages)]
        busy, begun, rows = time.process_time(), 0.0, -1
        with subprocess.Popen(command) as publisher:
            while rows < messages:
                batch = followed.source.more(0.5)
                begun = begun or (time.monotonic() - wait_s if batch.text else 0.0)
                followed.spool.take(batch)
                if batch.position is not None:
                    followed.source.kept(batch.position)
                rows += batch.text.count(b"\n")
            took, busy = time.monotonic() - begun, time.process_time() - busy
            publisher.wait()
        on_disk = len(followed.rows())
        followed.close()
        broker.stop()
        return messages / took, messages / busy, on_disk


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--messages", type=int, default=50_000)
    parser.add_argument("--wait", type=float, default=2.0, help="seconds that records are waited for")
    stated = parser.parse_args()
    rate, alone, rows = measure(stated.messages, stated.wait)
    print(
        f"{stated.messages} messages, {rows} rows on the disk, wait {stated.wait:g} s: {rate:.0f} messages a second; "
        f"{alone:.0f} a second of processor time of the follower"
    )


if __name__ == "__main__":
    main()
