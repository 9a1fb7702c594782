"""A tolerance study in pictures: distributions, what matters, how wide, and where it may lie."""
