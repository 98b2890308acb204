"""The planner's book: headings and words here, the file in `package`, then `reading`, `writing`,
`template`, `hosts`.
"""
