"""Finding the piece again: from readings of known features to where the work lies, and how sure that is.

Imports ``job`` only; numbers in, numbers out.
"""
