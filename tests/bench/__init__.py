"""Benchmarks: fixed instances, the machine's own figures, gaps to known or computed bounds.

    python -m tests.bench NAME [--data DIR] [--seconds S] [--seed K] [--only INSTANCE] [--workers N]
                               [--json FILE]

Each benchmark is a module of this folder named as it is called, with three functions:

``instances(options) -> Sequence[str]``
    The names of the instances, in the order in which they are shown.
``solve(instance, options) -> dict``
    One row of figures: plain values, the first of them the instance's name.
``summary(rows, options) -> Sequence[str]``
    Closing lines over all rows: means, worst cases, bars met or missed.
"""
