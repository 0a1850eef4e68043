"""The hardware shell: serial port and the permit's words on the wire."""
