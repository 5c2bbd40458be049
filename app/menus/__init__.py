"""Every action as a row of a table, and what it does."""
