"""Traces of one part together: histories of its positions, its verdict, what its bolts do to one another."""
