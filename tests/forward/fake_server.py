"""A strict stand-in for a line-protocol server: path, token, precision, grammar, one type per field; statuses as told."""

import gzip
import re
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, urlparse

TOKEN = "s3cret-t0ken"

_KEY = r"(?:[^,= \\\n]|\\[,= ]|\\(?![,= ]))+"
_NUMBER = r"-?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_STRING = r'"(?:[^"\\\n]|\\["\\])*"'
_FIELD = rf"{_KEY}=(?:{_NUMBER}i?|true|false|{_STRING})"
LINE = re.compile(rf"({_KEY})((?:,{_KEY}={_KEY})*) ({_FIELD}(?:,{_FIELD})*) (-?\d+)")
FIELD = re.compile(rf"({_KEY})=({_NUMBER}i?|true|false|{_STRING})")


class StrictServer:
    """What it took, how often, and what it answers next."""

    def __init__(self) -> None:
        self.answers: list[tuple[int, dict[str, str]]] = []  # each used once, in order; then by the book
        self.always: int | None = None
        self.delay_s = 0.0
        self.poison = ""  # a line that holds this is refused
        self.lines_max = 10**9
        self.stored: dict[tuple[str, str, str, int], str] = {}
        self.times: Counter[tuple[str, str, str, int]] = Counter()
        self.types: dict[tuple[str, str], str] = {}
        self.requests: list[tuple[int, int]] = []  # (status, lines)
        self.complaints: list[str] = []
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), _handler(self))
        self.url = f"http://127.0.0.1:{self._server.server_address[1]}"

    def judge(self, path: str, token: str, body: bytes) -> tuple[int, dict[str, str]]:
        lines = body.decode("utf-8").split("\n")
        status, headers = self._status(path, token, lines)
        self.requests.append((status, len(lines)))
        return status, headers

    def _status(self, path: str, token: str, lines: list[str]) -> tuple[int, dict[str, str]]:
        where = urlparse(path)
        query = parse_qs(where.query)
        if where.path != "/api/v2/write" or query.get("bucket") != ["pool"]:
            return 404, {}
        if token != f"Token {TOKEN}":
            return 401, {}
        if query.get("precision") != ["ns"]:
            self.complaints.append(f"precision {query.get('precision')}")
            return 400, {}
        if self.answers:
            return self.answers.pop(0)
        if self.always is not None:
            return self.always, {}
        if len(lines) > self.lines_max:
            return 413, {}
        bad = [line for line in lines if not self._takes(line)]
        return (400, {}) if bad else (204, {})

    def _takes(self, line: str) -> bool:
        found = LINE.fullmatch(line)
        if found is None or (self.poison and self.poison in line):
            if found is None:
                self.complaints.append(line)
            return False
        measurement, tags, fields, at = found.groups()
        for name, value in FIELD.findall(fields):
            kind = "text" if value[0] == '"' else "bool" if value in ("true", "false") else "int" if value[-1] == "i" else "float"
            if self.types.setdefault((measurement, name), kind) != kind:
                self.complaints.append(f"type of {measurement}.{name}: {line}")
                return False
            key = (measurement, tags, name, int(at))
            self.stored[key] = value
            self.times[key] += 1
        return True


def _handler(fake: StrictServer) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            if self.headers.get("Content-Encoding") == "gzip":
                body = gzip.decompress(body)
            status, headers = fake.judge(self.path, self.headers.get("Authorization", ""), body)
            if fake.delay_s:
                time.sleep(fake.delay_s)
            self.send_response(status)
            for name, value in headers.items():
                self.send_header(name, value)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, format: str, *arguments: object) -> None:
            return

    return Handler


@contextmanager
def strict_server() -> Iterator[StrictServer]:
    fake = StrictServer()
    thread = threading.Thread(target=fake._server.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True)
    thread.start()
    try:
        yield fake
    finally:
        fake._server.shutdown()
        fake._server.server_close()
        thread.join()
