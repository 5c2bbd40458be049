"""Shared by tests of several folders."""
