"""The planner's book: its tables and headings, reading rows into the model, writing results back."""
