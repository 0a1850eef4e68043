"""Uplink: what the record holds, sent to a time-series store, a broker and people. Runs in a process of its own."""
