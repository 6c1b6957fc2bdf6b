"""The program's version. The root package shows it; rooms import it from here, because the root imports the rooms."""

VERSION = "0.1.0"
