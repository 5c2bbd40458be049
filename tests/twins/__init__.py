"""The whole fit of a tightening curve once more, in plain numpy and scipy, for an engineer with a printed
curve.

Written from the description in DEVELOPERS.md ("How points are found"), with its own constants: a change of a
formula or a constant in the program is meant to be made here too, and is noticed where it is not.
"""
