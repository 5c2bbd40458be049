"""Joints, clamp force, limits, calculator."""
