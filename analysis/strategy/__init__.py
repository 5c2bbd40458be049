"""Which way of tightening suits a joint: the clamp force that each makes, drawn from its scatter."""
