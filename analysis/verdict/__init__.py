"""Rules, findings, and causes with evidence for and against."""
