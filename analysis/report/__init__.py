"""The per-joint report as plain data, then HTML."""
