"""Facts of the trade as data with their sources; nothing here knows of books or layouts.

`units`, `lengths` and `thickness` read what planners write; `gauges`, `materials`, `cautions` and
`starter_rules` are tables; `likeness` tells which thicknesses are one.
"""
