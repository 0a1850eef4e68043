"""The client library's own batching writer, as one would use it: a program of its own, as its pool outlives it.

python tests/uplink/plain_writer.py URL LINES_FILE SECONDS
"""

import sys
import time
from pathlib import Path

from influxdb_client.client.influxdb_client import InfluxDBClient
from influxdb_client.client.write_api import WriteOptions

PARTS = 100


def send(lines: list[str], url: str, seconds: float) -> None:
    """Send lines as they come, evenly over some seconds."""
    client = InfluxDBClient(url=url, token="", org="-", enable_gzip=True, timeout=2_000)
    options = WriteOptions(
        batch_size=1_000, flush_interval=1_000, retry_interval=200, max_retries=5, max_retry_time=3_000,
        max_close_wait=10_000, jitter_interval=0,
    )  # fmt: skip
    writer = client.write_api(write_options=options)
    each = max(1, len(lines) // PARTS)
    for first in range(0, len(lines), each):
        writer.write("rigs", record="\n".join(lines[first : first + each]), write_precision="ms")
        time.sleep(seconds / PARTS)
    writer.close()
    client.close()


if __name__ == "__main__":
    send(Path(sys.argv[2]).read_text().splitlines(), sys.argv[1], float(sys.argv[3]))
