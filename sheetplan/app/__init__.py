"""The use cases: new book, check, plan, cut, undo, receive, month, close, import. Effects are here and below.

A use case takes a path and what it needs from outside (today's date, a stop rule, a place to report
progress) and returns values; printing is the command line's affair.
"""
