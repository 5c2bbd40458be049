"""Fonts of the printed report."""
