"""MQTT: what arrives becomes items on the daemon's queue, what was decided becomes messages. The only room that knows paho."""
