"""Two sets against each other."""
