"""A real MQTT broker in this process, for the demo and for tests: amqtt on a free loopback port."""

import asyncio
import logging
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from amqtt.broker import Broker

from sprayout.errors import LinkError

START_TIMEOUT_S = 10.0


@contextmanager
def embedded_broker() -> Iterator[int]:
    """Run a broker as long as the block lasts and give its port."""
    # amqtt tells of every client that leaves; that is no news to the person at the bench.
    logging.getLogger("amqtt").setLevel(logging.CRITICAL)
    logging.getLogger("transitions").setLevel(logging.CRITICAL)
    port = _free_port()
    started, stop = threading.Event(), threading.Event()
    thread = threading.Thread(
        target=lambda: asyncio.run(_broker(port, started, stop)), name="broker", daemon=True
    )
    thread.start()
    if not started.wait(START_TIMEOUT_S):
        raise LinkError("broker: the embedded broker did not start; give --mqtt with another one")
    try:
        yield port
    finally:
        stop.set()
        thread.join(START_TIMEOUT_S)


async def _broker(port: int, started: threading.Event, stop: threading.Event) -> None:
    broker = Broker(
        {
            "listeners": {"default": {"type": "tcp", "bind": f"127.0.0.1:{port}"}},
            "plugins": {"amqtt.plugins.authentication.AnonymousAuthPlugin": {}},
        }
    )
    await broker.start()
    started.set()
    await asyncio.to_thread(stop.wait)
    await broker.shutdown()


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as door:
        return int(door.getsockname()[1])
