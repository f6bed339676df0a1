"""Cutter paths for one placement: roughing by levels, walls by level, tops by row, drilling, entries, joining moves.

May live here: what turns allowed tip heights and exact sections into chains of moves.
May not: program text (program), the choice of placements (plan).
"""
