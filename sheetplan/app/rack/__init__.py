"""Steps that change rack and book together, each all or nothing: cuts recorded, taken back, looked at.

From below: `folder` holds the records and commits steps, `known` says what they mean for the job,
`opened` writes the book with them and hands all of it to a step.
"""
