"""The core process: settings, the one file that knows the chain, the loop and its watchdog."""
