"""A job sheet for a cover with many small screws: written, followed, torqued and signed off."""

__version__ = "0.1.0"
