"""The books that `sheetplan new` copies, and how they are drawn; the built books are shipped."""
