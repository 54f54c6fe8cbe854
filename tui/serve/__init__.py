"""The dashboard in a browser: a page, a guard before it, and a process of its own for each open page."""
