"""Facts of the trade as data with their sources; nothing here knows of books or layouts."""
