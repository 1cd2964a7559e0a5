"""A standing connection to a broker: kept up, retried with back-off, refusals told once.

paho's own thread does the work; nothing here blocks the caller.  A stopped connection lets go of
paho's client at once, which closes its sockets only when nothing refers to it.  Each new trouble
is one line with its cause and the next step; the same trouble again is not repeated.
"""

from __future__ import annotations

import socket
import ssl
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from sprayout.errors import BadInput, LinkError
from sprayout.intake.broker import Broker

RETRY_FIRST_S, RETRY_LONGEST_S = 1, 30
SESSION_KEPT_S = 7 * 24 * 3600  # MQTT 5 wants to be told how long; 3.1.1 leaves it to the broker
KEEPALIVE_S = 30
IN_FLIGHT_MAX = 100
KEPT_MESSAGES_MAX = 60_000
"""Message numbers have 16 bits; this is an hour and a half of a board at full rate."""


@dataclass(frozen=True, slots=True)
class Will:
    """What the broker says, retained, when this end goes silent."""

    topic: str
    payload: str


@dataclass(frozen=True, slots=True)
class ConnectionListener:
    """Who is told, from paho's thread.

    ``connected`` comes at each connection, ``said`` at each change of state with one line,
    ``subscribed`` with the reasons of refusals, ``published`` when the broker has a message.
    """

    connected: Callable[[], None]
    said: Callable[[bool, str], None]
    received: Callable[[paho.MQTTMessage], None] | None = None
    subscribed: Callable[[list[str]], None] | None = None
    published: Callable[[], None] | None = None


class Connection:
    """One client of one broker; a persistent session outlives the connection."""

    def __init__(
        self,
        broker: Broker,
        client_id: str,
        listener: ConnectionListener,
        *,
        manual_ack: bool = False,
        persistent: bool = True,
        kept_max: int = KEPT_MESSAGES_MAX,
        will: Will | None = None,
    ) -> None:
        self.broker, self._listener = broker, listener
        self._up = threading.Event()
        self._answered = self._leaving = False
        self._said: tuple[bool, str] | None = None
        self._generation = 0
        self._five, self._persistent = broker.version == "5", persistent
        self._client: paho.Client | None = self._make_client(client_id, manual_ack)
        self._client.max_queued_messages_set(kept_max)
        if will is not None:
            self._client.will_set(will.topic, will.payload, qos=1, retain=True)

    @property
    def up(self) -> bool:
        """Connected and accepted at this moment."""
        return self._up.is_set()

    @property
    def generation(self) -> int:
        """Changes with each connection: a message number means nothing on a later one."""
        return self._generation

    def start(self) -> None:
        """Begin to connect; returns at once."""
        client = self._client
        if client is None:
            raise LinkError(f"broker {self.broker}: this connection was stopped; make another")
        extra: dict[str, Any] = {}
        if self._five and self._persistent:
            properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
            properties.SessionExpiryInterval = SESSION_KEPT_S
            extra = {"clean_start": False, "properties": properties}
        client.connect_async(self.broker.host, self.broker.port, KEEPALIVE_S, **extra)
        client.loop_start()

    def stop(self) -> None:
        """Say goodbye and end the thread; the session stays at the broker."""
        client, self._client, self._leaving = self._client, None, True
        self._up.clear()
        if client is not None:
            client.disconnect()
            client.loop_stop()

    def subscribe(self, filters: list[tuple[str, int]]) -> None:
        """Ask for topics, each with its quality of service."""
        if self._client is not None:
            self._client.subscribe(filters)

    def acknowledge(self, mid: int, qos: int) -> None:
        """Tell the broker that it need not keep this message any longer."""
        if self._client is not None:
            self._client.ack(mid, qos)

    def publish(self, topic: str, payload: str, *, retain: bool) -> bool:
        """Send with QoS 1, now or when the broker is back; False if no more can be kept."""
        client = self._client
        if client is None:
            return False
        return client.publish(topic, payload, 1, retain).rc != paho.MQTT_ERR_QUEUE_SIZE

    def _make_client(self, client_id: str, manual_ack: bool) -> paho.Client:
        client = paho.Client(
            CallbackAPIVersion.VERSION2,
            client_id=client_id,
            clean_session=None if self._five else not self._persistent,
            protocol=MQTTProtocolVersion.MQTTv5 if self._five else MQTTProtocolVersion.MQTTv311,
            manual_ack=manual_ack,
        )
        client.reconnect_delay_set(RETRY_FIRST_S, RETRY_LONGEST_S)
        client.max_inflight_messages_set(IN_FLIGHT_MAX)
        if self.broker.user is not None:
            client.username_pw_set(self.broker.user, self.broker.password)
        if self.broker.tls:
            client.tls_set_context(_tls(self.broker.ca_file))
        self._listen(client)
        return client

    def _listen(self, client: paho.Client) -> None:
        client.on_connect = self._on_connect
        client.on_connect_fail = self._on_connect_fail
        client.on_disconnect = self._on_disconnect
        listener = self._listener
        if (received := listener.received) is not None:
            client.on_message = lambda client, userdata, message: received(message)
        if (subscribed := listener.subscribed) is not None:
            client.on_subscribe = lambda client, userdata, mid, reasons, properties: subscribed(
                [str(reason) for reason in reasons if reason.is_failure]
            )
        if (published := listener.published) is not None:
            client.on_publish = lambda client, userdata, mid, reason, properties: published()

    def _on_connect(
        self,
        client: paho.Client,
        userdata: object,
        flags: paho.ConnectFlags,
        reason: ReasonCode,
        properties: Properties | None,
    ) -> None:
        self._answered = True
        if reason.is_failure:
            self._say(False, f"refused us ({reason}); {_what_to_do(str(reason))}")
            return
        self._generation += 1
        self._up.set()
        self._listener.connected()
        self._say(True, "connected")

    def _on_connect_fail(self, client: paho.Client, userdata: object) -> None:
        self._say(False, _why(sys.exc_info()[1]))

    def _on_disconnect(
        self,
        client: paho.Client,
        userdata: object,
        flags: paho.DisconnectFlags,
        reason: ReasonCode,
        properties: Properties | None,
    ) -> None:
        self._generation += 1  # an acknowledgement that comes now is for nobody
        was_up, answered = self._up.is_set(), self._answered
        self._up.clear()
        self._answered = False
        if self._leaving:
            return
        if was_up:
            self._say(False, f"the connection ended ({reason}); trying again")
        elif not answered:
            self._say(False, f"it hung up without a word; {self._what_it_may_want()}")

    def _what_it_may_want(self) -> str:
        wants = [] if self.broker.tls else ["TLS (mqtts://)"]
        if self._five:
            wants.append("MQTT 3.1.1")
        return f"does it want {' or '.join(wants)}?" if wants else "see its log"

    def _say(self, online: bool, words: str) -> None:
        if (online, words) != self._said:
            self._said = (online, words)
            self._listener.said(online, f"broker {self.broker}: {words}")


def _tls(ca_file: Path | None) -> ssl.SSLContext:
    try:
        return ssl.create_default_context(cafile=ca_file and str(ca_file))
    except OSError as fault:
        raise BadInput(
            f"broker: {ca_file} cannot be used as its certificate ({fault.strerror or fault}); "
            "wanted a PEM file of the authority that signed it"
        ) from fault


def _why(fault: BaseException | None) -> str:
    """The cause of a connection that failed, and what to do."""
    match fault:
        case ssl.SSLCertVerificationError():
            cause = fault.verify_message or fault.reason
            return f"its certificate is not trusted ({cause}); name its CA file"
        case ssl.SSLError():
            return f"no TLS there ({fault.reason}); use mqtt:// or its TLS port"
        case socket.gaierror():
            return "no such host; correct the address"
        case ConnectionRefusedError():
            return "nothing listens there; start the broker or correct the address"
        case TimeoutError():
            return "no answer in time; check the address, the network and whether it speaks TLS"
        case _:
            return f"cannot connect ({fault}); check the address and the network"


def _what_to_do(reason: str) -> str:
    lowered = reason.lower()
    if "protocol" in lowered:
        return "set the MQTT version to 3.1.1"
    if "identifier" in lowered:
        return "give this program another client name"
    if "authoriz" in lowered or "password" in lowered:
        return "check user and password"
    return "see the broker's log"
