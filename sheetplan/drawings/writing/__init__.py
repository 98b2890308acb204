"""Layouts and parts as drawings: one scene of plain values, and a writer for each format."""
