"""First screen, import mapping, missing files."""
