"""The record: one writer, one file a run, the journal over them, and a reader that cannot write."""
