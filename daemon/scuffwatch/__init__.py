"""Watches a pin-on-ring friction rig and takes the motor's permit away when scuffing, stall or overheat begin."""

__version__ = "0.1.0"
