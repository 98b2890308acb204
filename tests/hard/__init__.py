"""Promises put to the proof: spoilt and hostile input, faults of the machine, long random runs.

Each module with a ``main`` is a harness: ``python -m tests.hard.NAME --count N --seed K``. By default
pytest runs a small, seeded share of each.

`book_fuzz` and `drawing_fuzz` spoil input, `real_command` both again with each command a process;
`hostile_run` has books made to do harm; `faults` and `month_faults` kill; `soak` has random books;
`headings` spoils headings of input pages, `numbers` types numbers against a grammar of their own;
`drawing_edits` edits drawings under a plan, `strangers` brings kits of seeded drawings in (`--files`),
`real_drawings` plans shared ones; `open_book` disturbs a real LibreOffice at random moments, `typed_values`
types numbers beside every live column, in three languages.
"""
