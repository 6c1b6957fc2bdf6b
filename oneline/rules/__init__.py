"""Overcurrent, tap, ampacity and other rules of the code: small functions that return verdicts."""
