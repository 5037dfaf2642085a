"""What to do about the causes: which repairs, in which order, with which parts and warnings."""
