"""Result pages into the book: the grid that every host draws, print set-up, charts, the closed file."""
