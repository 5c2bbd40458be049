"""Files to traces: a registry of layouts, each with sniff and read; the import mapping."""
