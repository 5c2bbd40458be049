"""The workspace file, its places, and what is kept after a crash."""
