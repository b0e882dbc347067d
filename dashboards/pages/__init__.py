"""The pages, one for each task: layout and thin callbacks."""
