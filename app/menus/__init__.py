"""Menus: each module holds the rows of actions, with their words, keys and enabling, beside what they do."""
