"""printing of the window."""
