"""Proven least costs of a gauge: no plan that keeps the rules can be cheaper."""
