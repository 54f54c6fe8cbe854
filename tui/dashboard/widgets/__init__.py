"""One widget a file; each shows plain values and works nothing out."""
