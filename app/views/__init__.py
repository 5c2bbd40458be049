"""views of the window."""
