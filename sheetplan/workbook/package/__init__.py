"""The book as a file: its package, cells and pages put into it, the guard, and saving."""
