"""Where on the boards the parts of a cut list are sawn: an integer program with its bound.

May live here: parts, clear areas of boards, sections and their pricing, the program itself. May not: what the parts
are for, drawings.
"""
