"""Promises put to the proof: spoilt and hostile input, faults of the machine, long random runs.

Each module with a ``main`` is a harness: ``python -m tests.hard.NAME --count N --seed K``. By default
pytest runs a small, seeded share of each.
"""
