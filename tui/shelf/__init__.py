"""What is in the recordings folder, worked out by a process of its own so that no screen waits for it."""
