"""Everything the maker knows, and the types the layers share: units, frames, models, files, catalog.

May live here: validated models, reading and writing of the job folder, the words in which the tool says no.
May not: geometry kernels, planning, anything that needs numba, scipy or a mesh library.
"""
