"""From the book to the model: tables found and read, rows into values and problems."""
