"""What can be cut from here: the reachable floor, and the least clearance it asks for.

May live here: the fixed point over height fields, what is wanted of a standing, and why a region stays unreached.
May not: the order of placements (plan) and the shape of cutter paths (path).
"""
