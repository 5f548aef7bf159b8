"""Real receivers on loopback: HTTP that may refuse, hang, lie or send in circles; SMTP; what arrived, in order."""

import email
import email.message
import json
import socketserver
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any


class HttpReceiver:
    """Takes posted JSON.

    mode : `take`, `refuse` (500), `hang`, `drop` (says 200 and keeps nothing), `circle` (redirects to itself),
    `trickle` (sends a byte now and then, for ever)
    """

    def __init__(self, mode: str = "take") -> None:
        self.mode = mode
        self.got: list[dict[str, Any]] = []
        self.asked = 0
        self._released = threading.Event()
        outer = self

        class Handler(BaseHTTPRequestHandler):
            def _do(self) -> None:
                body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
                outer.asked += 1
                if outer.mode == "hang":
                    outer._released.wait(60)
                    self.send_error(500)
                    return
                if outer.mode == "trickle":
                    self.wfile.write(b"HTTP/1.1 200 OK\r\nX-Slow: ")
                    while not outer._released.wait(0.5):
                        self.wfile.write(b"a")
                    return
                if outer.mode == "circle":
                    self.send_response(307)
                    self.send_header("Location", self.path)
                    self.send_header("Content-Length", "0")
                    self.end_headers()
                    return
                if outer.mode == "take":
                    outer.got.append(json.loads(body) if body else {"path": self.path})
                self.send_response(500 if outer.mode == "refuse" else 200)
                self.send_header("Content-Length", "0")
                self.end_headers()

            do_POST = do_GET = _do  # noqa: N815 - the names that the server calls

            def log_message(self, format: str, *args: object) -> None:
                return

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        self.port = self._server.server_address[1]
        threading.Thread(target=self._server.serve_forever, daemon=True).start()

    @property
    def url(self) -> str:
        return f"json://127.0.0.1:{self.port}/call"

    def close(self) -> None:
        self._released.set()
        self._server.shutdown()
        self._server.server_close()


class MailReceiver:
    """An SMTP server of the few commands that hand over one mail."""

    def __init__(self) -> None:
        self.got: list[email.message.Message] = []
        outer = self

        class Handler(socketserver.StreamRequestHandler):
            def handle(self) -> None:
                self.wfile.write(b"220 sink\r\n")
                while line := self.rfile.readline():
                    word = line.split(b" ")[0].strip().upper()
                    if word == b"DATA":
                        self.wfile.write(b"354 go on\r\n")
                        lines = []
                        while (text := self.rfile.readline()) not in (b".\r\n", b""):
                            lines.append(text.removeprefix(b"."))  # a leading dot is doubled on the wire, as SMTP wants it
                        outer.got.append(email.message_from_bytes(b"".join(lines)))
                    self.wfile.write(b"221 bye\r\n" if word == b"QUIT" else b"250 ok\r\n")
                    if word == b"QUIT":
                        return

        self._server = socketserver.ThreadingTCPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        threading.Thread(target=self._server.serve_forever, daemon=True).start()
        self.port = self._server.server_address[1]

    @property
    def url(self) -> str:
        return f"mailto://127.0.0.1:{self.port}/?from=pool@example.org&to=anna@example.org&mode=insecure"

    def close(self) -> None:
        self._server.shutdown()
        self._server.server_close()
