"""The search for the cheapest plan of a gauge: by boxes, by guillotine strips and by true shapes."""
