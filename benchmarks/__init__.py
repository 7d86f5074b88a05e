"""What the program costs, in ratios that were measured in one run."""
