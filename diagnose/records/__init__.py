"""Records of jobs: what a closed case tells, folders and books of them, and what they teach the rules."""
