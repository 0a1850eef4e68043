"""The pages: wall screen, bench, runs."""
