"""Codes of the reasons that the kernels give; declared in `analysis.catalogue.reasons`."""

from analysis.catalogue.reasons import *  # noqa: F403
