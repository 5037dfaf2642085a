"""Looking names up."""
