"""The Python interface: build or open a drawing, study it, read verdicts and points, save, print."""
