"""Drawings in and layout drawings out."""
