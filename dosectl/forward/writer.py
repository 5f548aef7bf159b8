"""One synchronous request to the server, and what its answer means. The only file that knows the client's exceptions."""

from datetime import datetime
from email.utils import parsedate_to_datetime
from typing import Any

from influxdb_client.client.influxdb_client import InfluxDBClient
from influxdb_client.client.write_api import SYNCHRONOUS
from influxdb_client.rest import ApiException
from urllib3.exceptions import HTTPError

from dosectl.settings.broker import ForwardSettings

TIMEOUT_S = 10.0
RETRY_AFTER_S_MAX = 3600.0


class NotTaken(Exception):
    """The server did not say yes.

    status : its HTTP status, None where it did not answer; retry_after_s : how long it asks to wait, None where it does not
    text : for a person; never holds the token
    """

    def __init__(self, status: int | None, text: str, retry_after_s: float | None = None) -> None:
        """See the class."""
        super().__init__(text)
        self.status = status
        self.text = text
        self.retry_after_s = retry_after_s


class LineWriter:
    """Writes lines in one request each. The token stays inside; it is in no text and no repr."""

    def __init__(self, settings: ForwardSettings, timeout_s: float = TIMEOUT_S) -> None:
        """No request is made yet."""
        self._settings = settings
        # No retries inside the client: the cursor is the retry, and a hidden second try could block for minutes.
        self._client: Any = InfluxDBClient(
            url=settings.url.rstrip("/"), token=settings.token or "", org=settings.org or "-", timeout=int(timeout_s * 1000),
            enable_gzip=True,
        )  # fmt: skip
        self._api: Any = self._client.write_api(write_options=SYNCHRONOUS)

    def write(self, lines: list[str], now: datetime) -> None:
        """Returns when the server has taken all lines (2xx). Raises NotTaken."""
        try:
            # One string: a list of lines costs seven times as much in the client.
            self._api.write(bucket=self._settings.bucket, record="\n".join(lines), write_precision="ns")
        except ApiException as error:
            headers: Any = error.headers or {}
            wait_s = retry_after_s(headers.get("Retry-After"), now)
            shown = str(error.body or error.reason or "")[:200]
            raise NotTaken(error.status, f"{self._settings.url} answered {error.status}: {shown}", wait_s) from None
        except (HTTPError, OSError) as error:
            raise NotTaken(None, f"{self._settings.url} can't be reached ({type(error).__name__})") from None

    def close(self) -> None:
        """Closes the connections."""
        self._api.close()
        self._client.close()


def retry_after_s(header: str | None, now: datetime) -> float | None:
    """Seconds that a Retry-After header asks for (a number or a date), at most an hour; None where it asks for nothing."""
    if header is None:
        return None
    try:
        seconds = float(header)
    except ValueError:
        try:
            seconds = (parsedate_to_datetime(header) - now).total_seconds()
        except (ValueError, TypeError):
            return None
    return min(max(seconds, 0.0), RETRY_AFTER_S_MAX) if seconds == seconds else None
