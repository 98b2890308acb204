"""Steps that change rack and book together, each all or nothing: cuts recorded, taken back, looked at.

From below: `folder` holds the records and commits steps, `known` says what they mean for the job,
`changes` writes the book with them, `opened` hands all of it to a step.
"""
