"""Case files: reading them, writing an empty one, and the cases that stand beside the rules."""
