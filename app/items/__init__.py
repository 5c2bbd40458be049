"""items of the window."""
