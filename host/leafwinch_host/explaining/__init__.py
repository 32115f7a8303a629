"""A fault explained: likely causes, what to measure, when not to go on, the seconds before it."""
