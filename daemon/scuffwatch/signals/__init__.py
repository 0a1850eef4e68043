"""From raw counts to SI: assembled, calibrated, judged and cut into slices of 10 ms."""
