"""From what is to be built to settings, limit places and a yes or no."""
