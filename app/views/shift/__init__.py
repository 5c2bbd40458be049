"""Where a trace sits: histogram and order of time."""
