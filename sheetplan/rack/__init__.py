"""Partly used sheets, remembered exactly as cut."""
