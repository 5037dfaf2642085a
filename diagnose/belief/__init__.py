"""How likely each cause is, given the findings. Rests on `diagnose.model` alone and knows of no particular trade."""
