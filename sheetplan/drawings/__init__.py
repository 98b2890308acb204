"""Drawings in and out: reading DXF and SVG into outlines, judging them, writing layouts; quick shapes."""
