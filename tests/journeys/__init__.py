"""Whole pieces of work, told in the engineer's words and done by actions, keys and mouse."""
