"""What changes to an instrument bring, in pictures."""
