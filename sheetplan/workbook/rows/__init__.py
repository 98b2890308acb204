"""Rows of the input pages, one module a page: raw cells in, model values and problems out."""
