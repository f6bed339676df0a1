"""Makers of fitted boxes: from an outline and a few sizes to the solids of body, lid and trays, faces named.

May live here: outlines by formula and from traced points, their parallels and eased corners, the parts' geometry.
May not: what wood bears or how it moves (wood), placements, cutting.
"""
