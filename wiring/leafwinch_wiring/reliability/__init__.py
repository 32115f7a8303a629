"""Estimates of dangerous failures by ISO 13849-1, for comparing ways of building.

Nothing here is a certificate. The numbers say which part of a stop counts most and what a
second way would bring; whether a machine is safe is decided by a risk assessment, a competent
person and the local code.
"""
