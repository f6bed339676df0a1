"""The judge: reads programs back, removes wood with them, and says what went wrong, where and what to do.

May live here: findings, verdicts, the made solid against the piece.
May not: anything of plan, path, reach or the program writer: the planner must not certify itself.
"""
