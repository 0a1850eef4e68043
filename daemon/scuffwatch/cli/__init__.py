"""The command line: one small file a command, everything heavy imported when it is needed."""
