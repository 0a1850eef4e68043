"""The serial protocol: drawn, encoded and decoded in one file, with no I/O, and the byte stuffing under it."""
