"""What is said of the session's traces, as rich text; shown by views that do not know the session."""
