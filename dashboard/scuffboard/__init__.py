"""The pages: wall, bench, runs, alarms. A separate process that shows and asks, and never touches a device."""
