"""Grids, height fields and columns: the numba kernels that drop, dilate, sweep and label.

May live here: functions over arrays and plain numbers, each opening with its question, frame, units and source.
May not: policy, messages, jobs, solids. Imports numpy, numba and itself only.
"""
