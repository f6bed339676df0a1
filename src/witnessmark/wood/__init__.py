"""What wood does through the year: how much water it holds in the air of a place, and how far that moves it.

Here live the physics of moisture and movement, fits and strength, with their published sources. It knows the job's
words and its catalog of woods; it knows nothing of shapes, plans or programs.
"""
