"""Self-contained HTML pages: the sheet for phone and paper, the lesson for a class."""
