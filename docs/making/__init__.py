"""What makes the generated pages; `python docs/make.py` runs it."""
