"""The detectors: slices in, findings out, by plain recursion and without a clock."""
