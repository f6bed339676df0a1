"""The order of the whole: which placements, on which side, in what order, with what cutters.

May live here: candidates, bounds, the search, and the verbs that run the parts below in turn.
May not: kernels, geometry, text layout.
"""
