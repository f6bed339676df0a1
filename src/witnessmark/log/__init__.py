"""What really happened at the machine: a log in SQLite beside the job, one row for every step that was confirmed.

Here lives the book itself (its tables as numbered SQL files, opening, confirming, taking back), its export, and what
many entries teach. It knows the words of a job and nothing of plans, programs or proofs: who confirms says what.
"""
