"""Records turned into pictures; runs nothing."""
