"""Table in, figure out: nothing here reads a log or keeps anything. One file for each figure."""
