"""What else fits: answers beside a plan, each of them laid out."""
