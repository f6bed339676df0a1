"""Witnessmark: fitted wooden pieces on a small CNC router, from model to proven programs.

What lives here: the layers, one folder each; imports only point down (see docs/architecture.md).
This file stays empty of imports so that the command line starts at once.
"""

__version__ = "0.1.0"
