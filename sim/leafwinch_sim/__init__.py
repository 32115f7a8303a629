"""Simulator: one installation, its mechanics, its drive, and the bench around them."""
