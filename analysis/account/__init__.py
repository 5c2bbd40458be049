"""What is said of a trace, a joint, two sets, a laboratory test: put together once, rendered elsewhere.

Figures stay figures (`analysis.catalogue.sentences`) until they are shown in a unit.
"""
