"""Broker: one connection over MQTT 5. The only file that knows the client.

Reads topics and payloads, publishes them one at a time. A publish has worked when the broker has acknowledged it, and
not with a refusal: the library itself does not look at the reason.
"""

import ssl
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from aiomqtt import Client, MqttError, ProtocolVersion, Will
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from scuffwatch.uplink.settings import Mqtt


class BrokerAway(Exception):
    """The broker cannot be reached, has gone, or refuses; `says` is one clause."""

    def __init__(self, says: str) -> None:
        super().__init__(says)
        self.says = says


class _Client(Client):
    """Keeps the reason of the last acknowledgement that was a refusal."""

    refusal = ""

    def _on_publish(self, client: Any, userdata: Any, mid: int, reason_code: Any, properties: Any) -> None:
        if getattr(reason_code, "is_failure", False):
            self.refusal = str(reason_code)
        super()._on_publish(client, userdata, mid, reason_code, properties)


class Broker:
    """An open connection."""

    def __init__(self, client: _Client) -> None:
        self._client = client

    async def publish(self, topic: str, payload: bytes, *, qos: int, retain: bool, expiry_s: int = 0) -> None:
        """Publish and, at QoS 1, wait for the acknowledgement.

        Raises:
            BrokerAway: it did not come, or it was a refusal.
        """
        properties = None
        if expiry_s:
            properties = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
            properties.MessageExpiryInterval = expiry_s
        self._client.refusal = ""
        try:
            await self._client.publish(topic, payload, qos=qos, retain=retain, properties=properties)
        except (MqttError, OSError) as error:
            raise BrokerAway(words(error)) from error
        if self._client.refusal:
            raise BrokerAway(f"refuses {topic}: {self._client.refusal}")

    async def subscribe(self, topic: str) -> None:
        """Ask for messages; for readers only, the sender subscribes to nothing."""
        try:
            await self._client.subscribe(topic, qos=1)
        except (MqttError, OSError) as error:
            raise BrokerAway(words(error)) from error

    async def messages(self) -> AsyncIterator[tuple[str, bytes]]:
        """Give what comes, topic and payload."""
        try:
            async for message in self._client.messages:
                payload = message.payload
                yield str(message.topic), payload if isinstance(payload, bytes) else b""
        except (MqttError, OSError) as error:
            raise BrokerAway(words(error)) from error


@asynccontextmanager
async def connected(
    settings: Mqtt, credentials: str, identifier: str, will: tuple[str, bytes] | None = None
) -> AsyncIterator[Broker]:
    """Connect, and disconnect at the end.

    Args:
        settings: where and how.
        credentials: `USER:PASSWORD`, or empty.
        identifier: client id.
        will: topic and payload the broker publishes, retained, when this connection ends without a word.
    Raises:
        BrokerAway: it cannot be reached or refuses.
    """
    user, _, password = credentials.partition(":")
    client = _Client(
        settings.host,
        settings.port,
        username=user or None,
        password=password or None,
        identifier=identifier,
        protocol=ProtocolVersion.V5,
        clean_start=True,
        will=Will(will[0], will[1], qos=1, retain=True) if will else None,
        timeout=settings.timeout_s,
        keepalive=settings.keepalive_s,
        tls_context=tls_context(settings.ca_file) if settings.tls else None,
        max_queued_outgoing_messages=100,
        max_queued_incoming_messages=10_000,
    )
    try:
        async with client:
            yield Broker(client)
    except BrokerAway:
        raise
    except (MqttError, OSError) as error:
        raise BrokerAway(words(error)) from error


def tls_context(ca_file: str) -> ssl.SSLContext:
    """Give a context that verifies the broker's name and certificate, TLS 1.2 or newer."""
    context = ssl.create_default_context(cafile=ca_file or None)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    return context


def words(error: BaseException) -> str:
    """Give one clause on what went wrong."""
    cause = error.__cause__
    return f"{error}{f' ({cause})' if cause and str(cause) not in str(error) else ''}" or type(error).__name__
