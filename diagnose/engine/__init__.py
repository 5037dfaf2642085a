"""Forward chaining over three values, with a justification for every conclusion; rests on the model alone."""
