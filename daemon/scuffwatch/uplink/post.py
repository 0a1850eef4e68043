"""Post: lines to a time-series store with the v2 write API, one answer at a time. The only file that knows the client.

Reads lines, gives an answer as a value: accepted, refused, or later. Nothing is retried here and nothing is kept.
"""

import re
from typing import Any, Literal

import urllib3
from influxdb_client.client.exceptions import InfluxDBError
from influxdb_client.client.influxdb_client import InfluxDBClient
from influxdb_client.client.write_api import SYNCHRONOUS

from scuffwatch.uplink.answers import Answer, Verdict

_STARTED = re.compile(rb"^process_start_time_seconds(?:\{[^}]*\})?\s+([0-9.eE+]+)", re.MULTILINE)
_METRICS_MAX_BYTES = 4 << 20
_BAD_LINES = (400, 413, 422)


class InfluxPost:
    """Sends with influxdb-client, synchronously, compressed.

    Args:
        url, org, bucket, token: of the store; those it does not know may be empty.
        timeout_s: of a whole request, s.
        ca_file: certificates to verify it with, where not the system's.
        stamps: unit of the stamps of all lines, `ms` or `ns`.
    """

    def __init__(
        self,
        url: str,
        org: str,
        bucket: str,
        token: str,
        timeout_s: float,
        ca_file: str = "",
        stamps: Literal["ms", "ns"] = "ms",
    ) -> None:
        self._url, self._bucket = url, bucket
        self._precision: Any = stamps
        self._client: Any = InfluxDBClient(
            url=url,
            token=token,
            org=org or "-",
            timeout=round(timeout_s * 1000),
            enable_gzip=True,
            retries=False,
            ssl_ca_cert=ca_file or None,
        )
        self._api: Any = self._client.write_api(write_options=SYNCHRONOUS)
        self._plain = urllib3.PoolManager(
            num_pools=1, retries=False, timeout=urllib3.Timeout(total=min(3.0, timeout_s)), ca_certs=ca_file or None
        )

    def write(self, lines: list[str]) -> Answer:
        """Send lines and wait for the answer."""
        try:
            self._api.write(self._bucket, record="\n".join(lines), write_precision=self._precision)
        except InfluxDBError as error:
            return _answer(error)
        except (urllib3.exceptions.HTTPError, OSError) as error:
            return Answer(Verdict.LATER, f"no answer: {_short(error)}", away=True)
        return Answer(Verdict.ACCEPTED)

    def started_utc_s(self) -> float | None:
        """Give when the server says it started, s UTC; None where it does not say."""
        try:
            reply = self._plain.request("GET", f"{self._url.rstrip('/')}/metrics", preload_content=False)
            found = _STARTED.search(reply.read(_METRICS_MAX_BYTES))
            reply.release_conn()
        except (urllib3.exceptions.HTTPError, OSError):
            return None
        return None if found is None else float(found[1])

    def close(self) -> None:
        """Give connections back."""
        self._api.close()
        self._client.close()
        self._plain.clear()


def _answer(error: InfluxDBError) -> Answer:
    response = error.response
    status = getattr(response, "status", None)
    if status is None:
        return Answer(Verdict.LATER, f"no answer: {_short(error)}", away=True)
    body = getattr(response, "data", b"") or b""
    text = body.decode("utf-8", "replace") if isinstance(body, bytes) else str(body)
    says = f"HTTP {status}: {' '.join(text.split())[:200]}".rstrip(": ")
    if status in _BAD_LINES:
        return Answer(Verdict.REFUSED, says)
    headers = getattr(error, "headers", None) or {}
    return Answer(Verdict.LATER, says, _seconds(headers.get("Retry-After", "")), away=status >= 500)


def _seconds(text: str) -> float:
    return float(text) if text.isascii() and text.isdigit() and len(text) < 7 else 0.0


def _short(error: BaseException) -> str:
    """Give why in the system's words where it has any: a library wraps them in its own."""
    inner: BaseException | None = error
    while inner is not None:
        if isinstance(inner, OSError) and inner.strerror:
            return inner.strerror
        inner = inner.__cause__ or inner.__context__
    return f"{type(error).__name__}: {error}"[:200]
