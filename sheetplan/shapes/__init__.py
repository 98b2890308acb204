"""Outline geometry: flattening with a bound, areas, transforms, offsets."""
