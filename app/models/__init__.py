"""models of the window."""
