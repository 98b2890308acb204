"""What is printed: tickets, lists, labels, the quote and the contact sheet."""
