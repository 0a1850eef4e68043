"""A simulated node and rig: physics worth watching behind the real bytes on a pty, never kinder than the hardware."""
