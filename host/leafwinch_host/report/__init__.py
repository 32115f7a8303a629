"""Reports for reading on a screen, on a phone and on paper."""
