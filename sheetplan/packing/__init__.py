"""Fill one sheet. `rectangles` and `outlines` answer the same question with the same words."""
