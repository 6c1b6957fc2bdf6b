"""Outages: how to make a work zone dead by the drawing, in which order to open and to restore, what must be tested.

A computed state never proves that anything is dead: only a person's test at the point of work does.
"""
