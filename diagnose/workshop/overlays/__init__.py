"""Starting an overlay, and looking one over."""
