"""The bench one can see: a page in the browser, served on this machine only."""
