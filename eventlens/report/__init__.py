"""Review -> what people read. `text` is the summary for the terminal, `catalogue` the patterns explained."""
