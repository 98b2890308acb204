"""Books of input pages: a plain good one to spoil, and ways of spoiling it, each named after its trouble."""
