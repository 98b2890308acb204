"""The use cases, one module each: new book, check, plan. Effects happen here and below, nowhere above.

A use case takes a path and what it needs from outside (today's date, a stop rule, a place to report
progress) and returns values; printing is the command line's affair.
"""
