"""From a drawing's bytes to parts: files read, loose lines put in order, everything told."""
