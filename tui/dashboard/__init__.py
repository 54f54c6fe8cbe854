"""The screen that follows a recording; nothing in it reads an instrument."""
