"""Many traces: outliers, reference set, what they share, drift, capability, limits from data."""
