"""The result pages of the book, one file a page, as values that every host can show."""
