"""The two Unix sockets of the core: live snapshots out, commands in. No network, nothing that waits for a peer."""
