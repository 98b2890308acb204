"""What a person looks at: result pages as host-neutral values, pictures of layouts, tickets."""
