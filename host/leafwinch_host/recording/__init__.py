"""Recording what a board sends, and reading, judging and comparing what was recorded."""
