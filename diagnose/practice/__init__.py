"""Practice with the roles turned: the tool holds a hidden fault, the trainee looks for it."""
