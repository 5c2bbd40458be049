"""Filter text: tokens, grammar, completion."""
