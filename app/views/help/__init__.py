"""Help topics and their pictures."""
