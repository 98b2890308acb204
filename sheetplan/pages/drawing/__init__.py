"""Layouts as drawings: marks as values, the typeface, numbers on parts, and painters."""
