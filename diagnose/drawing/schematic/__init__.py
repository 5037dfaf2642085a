"""The assembly itself: its parts along the flow, with the suspected ones marked."""
