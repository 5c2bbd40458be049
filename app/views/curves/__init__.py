"""The torque-angle curves."""
