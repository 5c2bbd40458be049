"""Windows of studies: capability of process and tool, and ways of tightening."""
