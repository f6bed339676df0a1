"""Hidden latches: magnets that pull through wood, cams and bolts, and whether a whole box full of them will work."""
