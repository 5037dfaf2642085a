"""What a rule base names, and what bears on what: one index for whoever looks names up, counts, checks or draws."""
