"""The detection campaign: detectors scored over simulated rigs; see README.md beside this file."""
