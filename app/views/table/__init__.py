"""The table of verdicts."""
