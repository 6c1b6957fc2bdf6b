"""Gestures on the sheet, one class per mouse mode, and the keyboard's ways to do the same."""
