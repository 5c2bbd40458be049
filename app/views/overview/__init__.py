"""The shift at a glance: one small picture a joint."""
