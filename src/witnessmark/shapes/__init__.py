"""Solids and outlines: reading shape files, their health, sections, and makers of solids.

May live here: everything that turns files or formulas into solids and asks geometric questions of them.
May not: grids and cutters (field, path), the machine, the plan.
"""
