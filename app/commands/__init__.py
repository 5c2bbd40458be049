"""The command line: which command was typed, and what each does."""
