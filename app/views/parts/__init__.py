"""Widgets that several areas and windows are made of."""
