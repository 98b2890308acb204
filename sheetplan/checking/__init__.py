"""The independent check of every layout; shares no code with packing."""
