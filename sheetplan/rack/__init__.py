"""Partly used sheets as records: what was cut from them, what is left, and how they lie on the table.

Values and plain functions; files are written by `sheetplan.app`.
"""
