"""A plant's year: traces in pieces of bounded memory, an archive of results, what a year of them shows."""
