"""Residual torque: what a hand wrench still finds on a joint that was tightened before."""
