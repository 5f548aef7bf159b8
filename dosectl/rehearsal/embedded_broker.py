"""`python -m dosectl.rehearsal.embedded_broker PORT`: the embedded broker, on loopback only, in a process of its own."""

import asyncio
import signal
import sys

from amqtt.broker import Broker


async def _serve(port: int) -> None:
    # Given whole: the package's own defaults would listen on every interface.
    broker = Broker(
        {
            "listeners": {"default": {"type": "tcp", "bind": f"127.0.0.1:{port}", "max_connections": 50}},
            "plugins": {"amqtt.plugins.authentication.AnonymousAuthPlugin": {"allow_anonymous": True}},
        }
    )
    await broker.start()
    ended = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, ended.set)
    await ended.wait()
    await broker.shutdown()


if __name__ == "__main__":
    asyncio.run(_serve(int(sys.argv[1])))
