"""How figures, words and colours are shown, and what the user prefers."""
