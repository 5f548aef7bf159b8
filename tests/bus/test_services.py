"""The services that other tests stand on do start, end and refuse as said."""

from pathlib import Path

import paho.mqtt.client as mqtt
import pytest

from tests.services import certificates, eventually, start_amqtt, start_mosquitto


def connack(port: int, *, version: int = mqtt.MQTTv5, user: tuple[str, str] | None = None, ca: Path | None = None) -> str:
    """What the broker answers to a connect."""
    client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, protocol=version)
    answers: list[str] = []
    client.on_connect = lambda c, u, flags, reason, properties: answers.append(str(reason))
    if user:
        client.username_pw_set(*user)
    if ca:
        client.tls_set(ca_certs=str(ca))
    client.connect("127.0.0.1", port)
    client.loop_start()
    try:
        eventually(lambda: answers, what="no answer to the connect")
    finally:
        client.disconnect()
        client.loop_stop()
    return answers[0]


def test_mosquitto_takes_mqtt_5(tmp_path: Path) -> None:
    with start_mosquitto(tmp_path) as broker:
        assert connack(broker.port) == "Success"


def test_mosquitto_refuses_a_wrong_password(tmp_path: Path) -> None:
    with start_mosquitto(tmp_path, passwords={"pool": "right"}) as broker:
        assert connack(broker.port, user=("pool", "right")) == "Success"
        assert connack(broker.port, user=("pool", "wrong")) == "Not authorized"


def test_mosquitto_serves_tls(tmp_path: Path) -> None:
    tls = certificates(tmp_path / "tls")
    with start_mosquitto(tmp_path, tls=tls) as broker:
        assert connack(broker.port, ca=tls.authority) == "Success"


def test_mosquitto_comes_back_on_its_port(tmp_path: Path) -> None:
    with start_mosquitto(tmp_path) as broker:
        broker.kill()
        with pytest.raises(OSError):
            connack(broker.port)
        broker.start()
        assert connack(broker.port) == "Success"


def test_amqtt_speaks_3_1_1_only(tmp_path: Path) -> None:
    with start_amqtt(tmp_path) as broker:
        assert connack(broker.port, version=mqtt.MQTTv311) == "Success"
        assert connack(broker.port, version=mqtt.MQTTv5) == "Unsupported protocol version"
