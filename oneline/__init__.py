"""Oneline: single-line diagrams of low-voltage services with live calculations."""

__version__ = "0.1.0"
