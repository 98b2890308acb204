"""Facts of the trade as data with their sources; nothing here knows of books or layouts.

`units`, `lengths` and `thickness` read what planners write; `thickness` and `starter` hold the tables;
`sentences` writes counts, numbers and names.
"""
