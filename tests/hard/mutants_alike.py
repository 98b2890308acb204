"""Wrong lines that are none: what they change, nobody can see. Each with its reason."""

ALIKE: dict[tuple[str, str, str], str] = {}
"""The reason, by file, line as it is, and line as it would be."""
